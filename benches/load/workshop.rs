//! Workshops of any size in a file: the invented one, filled up with years of made-up work.

use std::path::{Path, PathBuf};

use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{Connection as _, Row as _, SqliteConnection};

use crate::server::{Server, program};

/// A file with this many pieces in its bins and rows in its ledger.
pub struct Filled {
    pub folder: tempfile::TempDir,
    pub pieces: i64,
    pub ledger_rows: i64,
    /// Something of each kind to look at.
    pub bin: i64,
    pub piece: i64,
    pub project: i64,
}

impl Filled {
    pub fn make(pieces: i64, ledger_rows: i64) -> Filled {
        let folder = tempfile::tempdir().expect("a folder for the file");
        let file = folder.path().join("workshop.db");
        let mut demo = Server::spawn(program().arg("demo"), &file);
        demo.terminate();
        demo.child.wait().expect("a child can be waited for");
        drop(demo);
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .expect("a runtime");
        runtime.block_on(async {
            let options = SqliteConnectOptions::new()
                .filename(&file)
                .foreign_keys(true);
            let mut db = SqliteConnection::connect_with(&options)
                .await
                .expect("the file opens");
            fill(&mut db, pieces, ledger_rows).await;
            let row = sqlx::query(
                "select (select id from bin where name = 'Shelf 7') as bin,
                     (select max(id) - 100 from offcut where count > 0) as piece,
                     (select min(id) from project where match_answer is not null) as project",
            )
            .fetch_one(&mut db)
            .await
            .expect("something of each kind");
            let filled = Filled {
                pieces,
                ledger_rows,
                bin: row.get("bin"),
                piece: row.get("piece"),
                project: row.get("project"),
                folder,
            };
            db.close().await.expect("the file closes");
            filled
        })
    }

    pub fn file(&self) -> PathBuf {
        self.folder.path().join("workshop.db")
    }

    pub fn file_mb(&self) -> f64 {
        megabytes(&self.file())
    }
}

fn megabytes(path: &Path) -> f64 {
    std::fs::metadata(path).map_or(f64::NAN, |about| about.len() as f64 / 1e6)
}

async fn fill(db: &mut SqliteConnection, pieces: i64, ledger_rows: i64) {
    let statements = include_str!("fill.sql");
    let mut all = db.begin().await.expect("a transaction");
    for statement in statements.split("\n--\n") {
        let mut query = sqlx::query(statement);
        if statement.contains("select ?1") {
            query = query.bind(pieces).bind(ledger_rows);
        }
        query
            .execute(&mut *all)
            .await
            .unwrap_or_else(|error| panic!("{error} in {statement}"));
    }
    all.commit().await.expect("the fill is kept");
}
