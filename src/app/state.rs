use std::ops::Deref;
use std::sync::Arc;

use tokio_util::sync::CancellationToken;

use super::running_match::RunningMatches;
use super::{Clock, PasswordCost, Passwords, SignInLimits, SolverSlots, Tokens};
use crate::config::Config;
use crate::store::Store;

/// The cheap handle to everything: clone it freely.
#[derive(Clone, Debug)]
pub struct App(Arc<Parts>);

/// What an [`App`] is made of.
#[derive(Debug)]
pub struct Parts {
    pub config: Config,
    pub store: Store,
    pub clock: Clock,
    pub tokens: Tokens,
    pub passwords: Passwords,
    pub limits: SignInLimits,
    pub slots: SolverSlots,
    pub running_matches: RunningMatches,
    /// Cancelled once when the program is asked to end.
    pub shutdown: CancellationToken,
}

impl App {
    /// The program as it is served.
    #[must_use]
    pub fn new(config: Config, store: Store) -> App {
        App::with(
            config,
            store,
            Clock::System,
            Tokens::Random,
            PasswordCost::Full,
        )
    }

    /// With another clock, another source of secrets and another cost of passwords: for tests and for demo data.
    #[must_use]
    pub fn with(
        config: Config,
        store: Store,
        clock: Clock,
        tokens: Tokens,
        cost: PasswordCost,
    ) -> App {
        let shutdown = CancellationToken::new();
        let slots = SolverSlots::new(
            config.solver_slots,
            config.solver_wait,
            config.solver_longest,
            shutdown.clone(),
        );
        App(Arc::new(Parts {
            passwords: Passwords::new(cost, config.solver_slots.max(2)),
            limits: SignInLimits::default(),
            config,
            store,
            clock,
            tokens,
            slots,
            running_matches: RunningMatches::default(),
            shutdown,
        }))
    }
}

impl Deref for App {
    type Target = Parts;

    fn deref(&self) -> &Parts {
        &self.0
    }
}
