//! How deep the stack goes: memory that is painted before some work and looked at after it.

/// What the stack is painted with.
const PAINT: u32 = 0xcccc_cccc;
/// Bytes just below the stack pointer that are left alone: what painting itself may use.
const SPARED: u32 = 64;
/// Bytes that are painted below the stack pointer, where there are as many.
const REACH: u32 = 8192;

extern "C" {
    static _stack_end: u32;
}

/// How much stack some work takes below where it is called, in bytes, from [`SPARED`] to [`REACH`].
#[inline(never)]
pub fn depth_of<T>(work: impl FnOnce() -> T) -> (u32, T) {
    let here = cortex_m::register::msp::read();
    let end = core::ptr::addr_of!(_stack_end) as u32;
    let lowest = end.max(here - REACH);
    let painted = || (lowest..here - SPARED).step_by(4).map(|at| at as *mut u32);
    // From the end of the stack to a little below the stack pointer nothing is in use.
    painted().for_each(|at| unsafe { at.write_volatile(PAINT) });
    let result = apart(work);
    let left = painted().take_while(|at| unsafe { at.read_volatile() } == PAINT);
    (here - lowest - left.count() as u32 * 4, result)
}

/// Keeps the frame of the work apart from the frame that measures it.
#[inline(never)]
fn apart<T>(work: impl FnOnce() -> T) -> T {
    work()
}
