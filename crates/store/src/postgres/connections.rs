//! Connections: a bounded number of sessions, each of which acknowledges a commit only when it is durable.

use std::sync::Arc;
use std::time::Duration;

use deadpool_postgres::{
    Client, ClientWrapper, Hook, HookError, Manager, ManagerConfig, Pool, PoolError, RecyclingMethod,
    Runtime, Timeouts,
};
use tokio_postgres::NoTls;
use tokio_postgres::config::SslMode;

use super::address::{PlainToOthers, PostgresAddress};
use super::query::{failed, unreachable};
use super::tls;
use crate::error::StoreError;

/// How long a call waits for a connection, a new one included.
const WAIT: Duration = Duration::from_secs(10);

/// The setting of how transactions see one another. An address may say it (`options=-c default_transaction_isolation=serializable`):
/// what met another one's work is begun anew.
const ISOLATION: &str = "default_transaction_isolation";
/// What does, where the address says nothing.
const WEAKEST: &str = "SET default_transaction_isolation = 'read committed'; ";

/// What every session is given. A write that hangs must not keep an athlete's row for ever, nor a replica that is gone.
const SESSION: &str = "SET statement_timeout = '30s'; SET lock_timeout = '10s'; SET idle_in_transaction_session_timeout = '30s'";

/// What the server says about durability; nothing where it does not know the setting.
const DURABILITY: &str = "SELECT current_setting('synchronous_commit', true), current_setting('fsync', true)";

/// A pool of sessions.
#[derive(Clone)]
pub(super) struct Connections {
    pool: Pool,
}

impl Connections {
    /// At most `most` sessions, opened when first needed. Must be called within a tokio runtime. Fails where TLS cannot be had or
    /// must not be left out.
    pub(super) fn new(address: &PostgresAddress, most: usize) -> Result<Self, StoreError> {
        let manager = manager(address)?;
        let timeouts = Timeouts { wait: Some(WAIT), create: Some(WAIT), recycle: Some(WAIT) };
        let says_isolation = address.config.get_options().is_some_and(|options| options.contains(ISOLATION));
        let isolation = if says_isolation { "" } else { WEAKEST };
        let prepare =
            Hook::async_fn(move |client: &mut ClientWrapper, _| Box::pin(make_durable(client, isolation)));
        let pool = Pool::builder(manager)
            .max_size(most.max(1))
            .timeouts(timeouts)
            .runtime(Runtime::Tokio1)
            .post_create(prepare)
            .build()
            .map_err(|error| StoreError::Backend { doing: "making a pool", source: Arc::new(error) })?;
        Ok(Self { pool })
    }

    /// A session of one's own until it is dropped. Fails with [`StoreError::Unreachable`] and [`StoreError::NotDurable`].
    pub(super) async fn get(&self) -> Result<Client, StoreError> {
        self.pool.get().await.map_err(|error| match error {
            PoolError::Backend(error) | PoolError::PostCreateHook(HookError::Backend(error)) => {
                failed("connecting")(error)
            }
            PoolError::PostCreateHook(HookError::Message(found)) => {
                StoreError::NotDurable { found: found.into_owned() }
            }
            PoolError::Timeout(_) => unreachable("waiting for a connection", error),
            PoolError::Closed | PoolError::NoRuntimeSpecified => StoreError::Stopped,
        })
    }
}

/// What opens sessions, with TLS or without.
fn manager(address: &PostgresAddress) -> Result<Manager, StoreError> {
    let mode = address.mode().map_err(|PlainToOthers| StoreError::Refused {
        field: "database",
        expected: "reached with TLS on another machine, so without sslmode=disable, unless postgres.trusted-network says that \
                   nobody on the way there needs to be kept out",
    })?;
    let mut config = (*address.config).clone();
    config.ssl_mode(mode);
    let how = ManagerConfig { recycling_method: RecyclingMethod::Fast };
    if mode == SslMode::Disable {
        return Ok(Manager::from_config(config, NoTls, how));
    }
    Ok(Manager::from_config(config, tls::connector(address.authorities.as_deref())?, how))
}

/// Makes a new session wait for durable storage at every commit. Fails where the server itself does not.
async fn make_durable(client: &ClientWrapper, isolation: &str) -> Result<(), HookError> {
    client.batch_execute(&format!("{isolation}{SESSION}")).await.map_err(HookError::Backend)?;
    let (commit, fsync) = durability(client).await?;
    if let Some(found) = fsync.filter(|found| found != "on") {
        return Err(HookError::message(format!("its `fsync` is {found}")));
    }
    if is_enough(commit.as_deref()) {
        return Ok(());
    }
    client.batch_execute("SET synchronous_commit = 'on'").await.map_err(HookError::Backend)?;
    match durability(client).await?.0 {
        found if is_enough(found.as_deref()) => Ok(()),
        found => {
            let found = found.unwrap_or_default();
            Err(HookError::message(format!("its `synchronous_commit` stays {found}")))
        }
    }
}

/// True for the settings of `synchronous_commit` that wait for durable storage here and on the standbys that count. A
/// server that does not know the setting has no other way.
fn is_enough(synchronous_commit: Option<&str>) -> bool {
    matches!(synchronous_commit, None | Some("on" | "remote_apply"))
}

type Durability = (Option<String>, Option<String>);

async fn durability(client: &ClientWrapper) -> Result<Durability, HookError> {
    let row = client.query_one(DURABILITY, &[]).await.map_err(HookError::Backend)?;
    let read = || Ok((row.try_get(0)?, row.try_get(1)?));
    read().map_err(HookError::Backend)
}
