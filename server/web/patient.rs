//! Waiting a moment before going to sleep.
//!
//! Rows come from SQLite's own thread, one after another. Whoever sleeps for each of them has to be woken for each of them, and a page of
//! a thousand rows would spend most of its time on that. So an answer that is not ready yet is asked for a few times more, and the
//! other thread is let go on in between; what takes longer than that is slept for as usual.

use axum::{extract::Request, middleware::Next, response::Response};
use std::{future::poll_fn, pin::pin, task::Poll};

/// So often it is asked before anybody sleeps: some tens of microseconds, in which a few rows come.
const TIMES: usize = 50;

/// Waits patiently for the answer to a request.
pub async fn patient(request: Request, next: Next) -> Response {
    patiently(next.run(request)).await
}

/// Waits for something that is nearly there.
pub async fn patiently<F: Future>(what: F) -> F::Output {
    let mut what = pin!(what);
    poll_fn(|wake| {
        for _ in 0..TIMES {
            if let Poll::Ready(done) = what.as_mut().poll(wake) {
                return Poll::Ready(done);
            }
            std::thread::yield_now();
        }
        Poll::Pending
    })
    .await
}
