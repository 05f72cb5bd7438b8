//! Wind and heel against what is known from elsewhere: a boat built from
//! plain mechanics, published tables, and figures from other libraries.

mod aboard;
mod accuracy;
mod brute_force;
mod cost;
mod gating;
mod honest;
mod instruments_that_lie;
mod lies;
mod long_run;
mod physics;
mod reference;
mod tables;
