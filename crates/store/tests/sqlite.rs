//! The SQLite backend: the store's promises, and those of one file.

use std::error::Error;
use std::sync::Arc;

use nextrung_store::conformance;
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use tempfile::TempDir;

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

async fn open() -> Outcome<(Arc<SqliteStore>, TempDir)> {
    let dir = tempfile::tempdir()?;
    let store = SqliteStore::open(dir.path().join("log.sqlite"), SqliteOptions::default()).await?;
    Ok((Arc::new(store), dir))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_promise_is_kept() -> Outcome<()> {
    let broken = conformance::broken(open).await?;
    assert!(broken.is_empty(), "{broken:#?}");
    Ok(())
}
