//! `cringle-core` linked whole, with nothing beneath it: were an allocator
//! wanted anywhere in it, this would not link.
#![no_std]

use cringle_core as _;

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    loop {}
}
