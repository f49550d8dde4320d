//! Members at work, who note down what they were told was done.

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

use serde_json::{Value, json};

use crate::server::{Caller, maple};

/// What the program said was done.
#[derive(Default)]
pub struct Told {
    /// Pieces that were added, and their notes.
    pub added: Mutex<Vec<(i64, String)>>,
    /// Boards that were claimed or let go, in order, with the number of layouts after it.
    pub claimed: Mutex<Vec<(i64, bool)>>,
}

/// Adds pieces until stopped, or until nobody answers.
pub fn add_pieces(caller: &Caller, name: &str, stop: &AtomicBool, told: &Told) {
    for number in 0.. {
        if stop.load(Ordering::Relaxed) {
            return;
        }
        let note = format!("{name} {number}");
        let Some(answer) = caller.post("/api/v1/offcuts", &maple("3 in", &note)) else {
            return;
        };
        if answer.is_done() {
            let id = answer.json()["id"].as_i64().unwrap();
            told.added.lock().unwrap().push((id, note));
        }
    }
}

/// Matches a board, claims its pieces and lets them go or cuts one, until stopped or nobody answers.
pub fn work_on_board(caller: &Caller, board: i64, stop: &AtomicBool, told: &Told) {
    let base = format!("/api/v1/projects/{board}");
    let step = |method: &str, path: &str, version: Option<i64>, body: &Value| {
        let answer = caller.change(method, path, version, body)?;
        Some((answer.is_done(), answer.json()))
    };
    let round = |number: usize| -> Option<()> {
        let (mut done, mut claims) = step("POST", &format!("{base}/claims"), None, &Value::Null)?;
        if !done {
            // Nothing is matched any more, or its pieces are gone.
            let body = json!({"seconds": 0.01});
            step("POST", &format!("{base}/match"), None, &body)?;
            let path = format!("{base}/claims");
            (done, claims) = step("POST", &path, None, &Value::Null)?;
        }
        if done {
            told.claimed.lock().unwrap().push((board, true));
        }
        if number % 3 == 2 {
            let (_, cuts) = step("GET", &format!("{base}/cuts"), None, &Value::Null)?;
            if let Some(cut) = cuts["items"].as_array().into_iter().flatten().next() {
                let path = format!("{base}/cuts/{}", cut["id"]);
                step("POST", &path, None, &json!({"copies": 1, "remainders": []}))?;
            }
        }
        for claim in claims["items"].as_array().into_iter().flatten() {
            let path = format!("{base}/claims/{}", claim["id"]);
            step("DELETE", &path, claim["version"].as_i64(), &Value::Null)?;
        }
        Some(())
    };
    for number in 0.. {
        if stop.load(Ordering::Relaxed) || round(number).is_none() {
            return;
        }
    }
}

/// Books a plan and takes it back, until stopped or nobody answers.
pub fn plan_board(caller: &Caller, board: i64, stop: &AtomicBool) {
    let path = format!("/api/v1/projects/{board}/plan");
    let round = || -> Option<()> {
        let made = caller.post(&path, &json!({"seconds": 0.05}))?;
        if made.is_done() {
            let plan = made.header("location").unwrap();
            caller
                .post(&format!("{plan}/accept"), &Value::Null)?
                .is_done();
            caller
                .change("DELETE", &path, None, &Value::Null)?
                .is_done();
        }
        Some(())
    };
    while !stop.load(Ordering::Relaxed) && round().is_some() {}
}
