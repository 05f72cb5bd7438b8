//! Draws the core's view on any panel, and turns key presses into acts.
//!
//! [`draw::draw`] takes a [`draw::Scene`] and paints it on any
//! `embedded-graphics` target; [`ui::Ui`] holds where the crew is in pages
//! and menus. Nothing here allocates or asks what time it is.
#![no_std]

pub mod aboard;
pub mod boxes;
pub mod draw;
pub mod frame;
pub mod hue;
pub mod letters;
pub mod panel;
pub mod paper;
pub mod print;
pub mod samples;
pub mod sound;
pub mod ui;
pub mod words;
