//! The local web page: what the command line does, for someone who would rather look and drag than type.
//!
//! A server on this machine alone serves one page (`desk/`, compiled in) and answers its calls. It holds no rule of its
//! own: what it answers comes from the functions that the command line calls. The state is one session: the opened file,
//! its revisions with undo, and the draft beside it (`session/`). Each call is a function from the session and what was
//! asked to an answer (`calls.rs` lists them, `answering.rs` says how); work on the processor runs on threads that may block, so that a page that
//! waits for one answer is still served others.

mod answering;
mod asking;
mod assets;
mod calls;
mod edits;
mod ending;
mod envelope;
mod guard;
mod jobs;
mod mesh;
mod packed;
mod posing;
mod printing;
mod report;
mod scene;
mod serve;
mod session;
mod shapes;
mod smaller;
mod stream;
mod thinning;
mod touching;
mod trying;
mod wrong;

pub use asking::{Answers, Asker, NamedBytes, Question};
pub use serve::{Listening, PageError, Serving, serve};
