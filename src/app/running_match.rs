//! Matches that are being solved while their members look on: what is known so far, and a way to say that it is enough.

use std::collections::BTreeMap;
use std::sync::atomic::Ordering;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use tokio::sync::watch;

use super::matching::{self, MatchError, Patience};
use super::{App, Stop};
use crate::calc::matching::Progress;
use crate::store::{By, ProjectId};

/// What is known of a match that was asked for.
#[derive(Clone, Debug, Default)]
pub struct MatchState {
    /// None before the solver has told anything.
    pub progress: Option<Progress>,
    /// Set once it has ended: well, and the match is kept with the project; or not, and why, as a sentence.
    pub ended: Option<Result<(), String>>,
}

/// One match at most for each project.
#[derive(Debug, Default)]
pub struct RunningMatches(Mutex<BTreeMap<ProjectId, Running>>);

#[derive(Debug)]
struct Running {
    state: watch::Receiver<MatchState>,
    enough: Stop,
}

impl RunningMatches {
    fn table(&self) -> MutexGuard<'_, BTreeMap<ProjectId, Running>> {
        // Every change of the table is a single insert or remove, so it is whole even after a panic.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What is known of the project's match, as it goes on; none where nobody asked for one or it ended well.
    pub fn watch(&self, id: ProjectId) -> Option<watch::Receiver<MatchState>> {
        self.table().get(&id).map(|running| running.state.clone())
    }

    /// Ends the search with the best answer so far.
    pub fn enough(&self, id: ProjectId) {
        if let Some(running) = self.table().get(&id) {
            running.enough.store(true, Ordering::Relaxed);
        }
    }
}

/// Why a match ended without an answer, as a sentence.
pub fn reason(error: &MatchError) -> String {
    match error {
        MatchError::Unknown => "The project is not there any more.".to_owned(),
        MatchError::Ended => "The project has ended.".to_owned(),
        MatchError::NothingWanted => "Every strip is claimed or cut already.".to_owned(),
        MatchError::DesignChanged => {
            "The design was changed while the solver was at work. Match it again.".to_owned()
        }
        MatchError::Design(_) => {
            "The design cannot be made as it stands. Its page says why.".to_owned()
        }
        MatchError::TooLarge(why) => why.clone(),
        MatchError::Busy => {
            "Others are matching just now, and all places are taken. Try again in a moment."
                .to_owned()
        }
        MatchError::Unreadable(_) | MatchError::Store(_) => {
            "The match could not be stored. Try again; if it happens again, tell a steward."
                .to_owned()
        }
    }
}

impl App {
    /// Begins to match a project, unless that goes on already, and waits for the answer for at most `wait`. With
    /// `keep_rest` every layout of the current match stays whose piece is still free.
    pub async fn start_match(
        &self,
        by: By,
        id: ProjectId,
        time: Duration,
        keep_rest: bool,
        wait: Duration,
    ) -> MatchState {
        let mut state = {
            let mut table = self.running_matches.table();
            match table.get(&id) {
                Some(running) if running.state.borrow().ended.is_none() => running.state.clone(),
                _ => {
                    let (tell, state) = watch::channel(MatchState::default());
                    let enough = Stop::default();
                    let running = Running {
                        state: state.clone(),
                        enough: Stop::clone(&enough),
                    };
                    table.insert(id, running);
                    let patience = Patience { time, enough };
                    tokio::spawn(run(self.clone(), by, id, patience, keep_rest, tell));
                    state
                }
            }
        };
        // A timeout only means that the answer comes later.
        let _ = tokio::time::timeout(wait, state.wait_for(|state| state.ended.is_some())).await;
        state.borrow().clone()
    }
}

async fn run(
    app: App,
    by: By,
    id: ProjectId,
    patience: Patience,
    keep_rest: bool,
    tell: watch::Sender<MatchState>,
) {
    let tell = std::sync::Arc::new(tell);
    let progress = {
        let tell = std::sync::Arc::clone(&tell);
        move |progress: Progress| tell.send_modify(|state| state.progress = Some(progress))
    };
    let found = if keep_rest {
        matching::find_keeping_rest(&app, by, id, patience, progress).await
    } else {
        matching::find(&app, by, id, patience, progress).await
    };
    let ended = match found {
        Ok(_) => {
            // The answer is with the project; only failures are remembered here.
            app.running_matches.table().remove(&id);
            Ok(())
        }
        Err(error) => {
            if matches!(error, MatchError::Unreadable(_) | MatchError::Store(_)) {
                tracing::error!(%error, project = id.0, "a match could not be kept");
            }
            Err(reason(&error))
        }
    };
    tell.send_modify(|state| state.ended = Some(ended));
}
