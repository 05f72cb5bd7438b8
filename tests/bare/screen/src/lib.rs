//! `cringle-screen` linked whole, with nothing beneath it: were an allocator
//! wanted anywhere in it, this would not link.
#![no_std]

use cringle_screen as _;

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    loop {}
}
