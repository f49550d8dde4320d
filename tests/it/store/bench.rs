//! A workshop with a member, a bin and a clock that stands still, for tests below the pages.

use std::time::Duration;

use jiff::Timestamp;
use scrapwright::app::{self, App, Clock, PasswordCost, Tokens};
use scrapwright::calc::pattern::{Arrangement, BoardStrip};
use scrapwright::calc::work::{Design, EdgeTreatment, Extras, StripedBoard, Surface};
use scrapwright::config::Config;
use scrapwright::store::bin::{self, NewBin};
use scrapwright::store::invariants;
use scrapwright::store::member::{self, NewMember};
use scrapwright::store::offcut::{self, GrowthRings, NewOffcut, Offcut};
use scrapwright::store::{BinId, By, MemberId, OffcutId, ProjectId, Role, Store};
use scrapwright::units::Length;

/// How long a test lets a solver work; the problems here take a moment.
pub const MOMENT: Duration = Duration::from_secs(2);

pub struct Bench {
    pub app: App,
    pub ada: MemberId,
    pub ben: MemberId,
    pub bin: BinId,
    _folder: tempfile::TempDir,
}

/// A Monday morning.
pub fn monday() -> Timestamp {
    "2027-03-01T08:00:00Z".parse().unwrap()
}

pub fn inches(numerator: i64, denominator: i64) -> Length {
    Length::from_inches(numerator, denominator)
}

impl Bench {
    pub async fn new() -> Bench {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("workshop.db"))
            .await
            .unwrap();
        let config = Config {
            public_url: "http://127.0.0.1".to_owned(),
            is_secure: false,
            proxies: Vec::new(),
            solver_slots: 2,
            solver_wait: Duration::from_secs(30),
            solver_longest: Duration::from_secs(30),
            request_longest: Duration::from_secs(30),
            shutdown_longest: Duration::from_secs(1),
            backups: None,
        };
        let clock = Clock::standing_at(monday());
        let app = App::with(config, store, clock, Tokens::counted(), PasswordCost::Least);
        let mut db = app.store.begin().await.unwrap();
        let mut add = async |name| {
            let new = NewMember {
                name,
                sign_in_name: name,
                password_hash: "",
                role: Role::Member,
            };
            member::insert(&mut db, &new, monday()).await.unwrap()
        };
        let (ada, ben) = (add("Ada").await, add("Ben").await);
        let by = By {
            member: Some(ada),
            at: monday(),
        };
        let shelf = NewBin {
            name: "B1".to_owned(),
            place: "by the door".to_owned(),
        };
        let bin = bin::create(&mut db, by, &shelf).await.unwrap();
        db.commit().await.unwrap();
        Bench {
            app,
            ada,
            ben,
            bin,
            _folder: folder,
        }
    }

    /// Ada, now.
    pub fn by(&self) -> By {
        self.by_member(self.ada)
    }

    pub fn by_member(&self, member: MemberId) -> By {
        By {
            member: Some(member),
            at: self.app.clock.now(),
        }
    }

    /// A maple piece with straight edges and square ends.
    pub fn maple(&self, length: Length, width: Length, count: u32) -> NewOffcut {
        NewOffcut {
            species: "hard maple".to_owned(),
            length,
            width,
            thickness: inches(7, 8),
            count,
            unusable: Vec::new(),
            square_ends: true,
            straight_edges: true,
            growth_rings: GrowthRings::Unknown,
            moisture_milli: Some(8_000),
            bin: self.bin,
            note: String::new(),
        }
    }

    pub async fn add(&self, piece: &NewOffcut) -> OffcutId {
        let mut db = self.app.store.begin().await.unwrap();
        let id = app::offcut::add(&mut db, self.by(), piece, None)
            .await
            .unwrap();
        db.commit().await.unwrap();
        id
    }

    pub async fn offcut(&self, id: OffcutId) -> Offcut {
        offcut::find(self.app.store.read(), id)
            .await
            .unwrap()
            .unwrap()
    }

    /// A board of `strips` maple strips, each 1 1/2 in wide on the face, 12 in long.
    pub fn board(&self, strips: usize) -> Design {
        let strip = BoardStrip::new("hard maple", inches(3, 2));
        let width = inches(3, 2) * i64::try_from(strips).unwrap();
        Design::StripedBoard(StripedBoard {
            length: inches(12, 1),
            width,
            thickness: inches(3, 4),
            surface: Surface::FaceGrain,
            arrangement: Arrangement::new(vec![strip; strips]),
            extras: Extras {
                edge: EdgeTreatment::Eased,
                groove: None,
                grips: None,
                feet: 0,
            },
        })
    }

    pub fn draft(&self, name: &str, design: Design) -> app::project::Draft {
        app::project::Draft {
            name: name.to_owned(),
            design,
            practice: Default::default(),
            due_day: None,
            note: String::new(),
        }
    }

    /// A project of `member` that wants `strips` strips.
    pub async fn project(&self, member: MemberId, strips: usize) -> ProjectId {
        let mut db = self.app.store.begin().await.unwrap();
        let draft = self.draft("Board", self.board(strips));
        let by = self.by_member(member);
        let id = app::project::create(&mut db, by, member, &draft)
            .await
            .unwrap();
        db.commit().await.unwrap();
        id
    }

    /// Fails with what is wrong if a rule of the file is broken.
    pub async fn assert_sound(&self) {
        let mut db = self.app.store.read().acquire().await.unwrap();
        let breaches = invariants::list_breaches(&mut db, 5).await.unwrap();
        assert_eq!(breaches, Vec::new());
    }
}
