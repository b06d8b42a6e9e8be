//! Calls over plain numbers, so that a few lines of script are enough to load it.
//!
//! The caller writes a question where [`room`] points, asks by [`open`] or one of those after it, and
//! reads the answer of [`answer_len`] bytes at [`answer`]. A call gives 0 where the answer is what was asked for, 1 where
//! it is a JSON of faults.

use lampwright::view::Engine;
use std::cell::RefCell;

#[derive(Default)]
struct Table {
    engine: Option<Engine>,
    question: Vec<u8>,
    answer: Vec<u8>,
}

thread_local! {
    static TABLE: RefCell<Table> = RefCell::new(Table::default());
}

fn at_table<T>(what: impl FnOnce(&mut Table) -> T) -> T {
    TABLE.with(|table| what(&mut table.borrow_mut()))
}

/// Makes room for a question of so many bytes and says where.
#[no_mangle]
pub extern "C" fn room(len: usize) -> *mut u8 {
    at_table(|t| {
        t.question.clear();
        t.question.resize(len, 0);
        t.question.as_mut_ptr()
    })
}

/// Where the answer lies.
#[no_mangle]
pub extern "C" fn answer() -> *const u8 {
    at_table(|t| t.answer.as_ptr())
}

/// How many bytes it has.
#[no_mangle]
pub extern "C" fn answer_len() -> usize {
    at_table(|t| t.answer.len())
}

/// Reads the texts of a prop.
#[no_mangle]
pub extern "C" fn open() -> u32 {
    at_table(|t| match Engine::open(&t.question) {
        Ok(engine) => {
            t.engine = Some(engine);
            t.answer = Vec::new();
            0
        }
        Err(faults) => {
            t.answer = faults;
            1
        }
    })
}

fn ask(what: &str) -> u32 {
    at_table(|t| {
        let Some(engine) = &mut t.engine else {
            t.answer = br#"{"faults":[{"message":"no prop has been opened"}]}"#.to_vec();
            return 1;
        };
        let (answer, faulty) = match engine.ask(what, &t.question) {
            Ok(answer) => (answer, 0),
            Err(faults) => (faults, 1),
        };
        t.answer = answer;
        faulty
    })
}

/// An estimate from a digest.
#[no_mangle]
pub extern "C" fn quick() -> u32 {
    ask("quick")
}

/// Every frame under one condition.
#[no_mangle]
pub extern "C" fn play() -> u32 {
    ask("play")
}

/// The checks over the whole trace.
#[no_mangle]
pub extern "C" fn margins() -> u32 {
    ask("margins")
}

/// The highest safe cap.
#[no_mangle]
pub extern "C" fn cap() -> u32 {
    ask("cap")
}

/// Begins a play by hand.
#[no_mangle]
pub extern "C" fn live_start() -> u32 {
    ask("live/start")
}

/// Its next frames.
#[no_mangle]
pub extern "C" fn live_step() -> u32 {
    ask("live/step")
}
