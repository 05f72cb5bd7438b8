//! Allocates, so it must not link: shows that the check can fail.
#![no_std]

extern crate alloc;

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    loop {}
}

/// Needs an allocator, and there is none.
pub fn allocates() -> alloc::vec::Vec<u8> {
    alloc::vec![1, 2, 3]
}
