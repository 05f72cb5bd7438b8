//! The panel drivers on fake buses: the bytes that reach the glass, and what
//! happens when they do not.

mod bench;
mod oled;
mod paper;
mod tft;
