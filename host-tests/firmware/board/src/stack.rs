//! How deep the stack has been: memory that the start-up code has painted and nothing has touched since.

/// What cortex-m-rt's feature `paint-stack` fills the stack with.
const PAINT: u32 = 0xcccc_cccc;

/// The deepest the stack has been since the start, in bytes.
pub fn deepest() -> u32 {
    extern "C" {
        static _stack_end: u32;
        static _stack_start: u32;
    }
    // The linker script gives both symbols, the ends of the stack; all of it is readable memory.
    unsafe {
        let end = core::ptr::addr_of!(_stack_end);
        let top = core::ptr::addr_of!(_stack_start);
        let mut at = end;
        while at < top && at.read_volatile() == PAINT {
            at = at.add(1);
        }
        (top as u32).wrapping_sub(at as u32)
    }
}
