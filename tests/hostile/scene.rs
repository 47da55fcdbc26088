//! Scene: a service that asks for keys, with an athlete on each side.

use std::net::SocketAddr;
use std::path::Path;

use nextrung_domain::date::CivilDate;
use nextrung_server::access::keeper::{NewKey, make};
use nextrung_server::{Running, Settings, start};

use crate::attack::Aim;
use crate::healthy::{Healthy, ROSTER};

/// A service on a database in a folder, as it is with its usual limits.
pub(crate) async fn serve(folder: &Path) -> Running {
    let mut settings = Settings::new(([127, 0, 0, 1], 0).into(), database(folder).as_path());
    settings.today = CivilDate::from_parts(2026, 3, 10).ok();
    settings.keys = true;
    start(settings).await.expect("a service")
}

/// Athletes, sets and keys: the healthy client, and whom the attacker has a key for.
pub(crate) async fn furnish(folder: &Path, service: SocketAddr) -> (Healthy, Aim) {
    let operator = key(folder, "operator", None).await;
    Healthy::new(service, &operator).await.create_roster().await;
    let healthy = Healthy::new(service, &key(folder, "coach", None).await).await;
    healthy.create_athlete("wren").await;
    healthy.create_athlete("crow").await;
    let aim = Aim {
        service,
        key: key(folder, "athlete", Some("crow")).await,
        athlete: format!("{ROSTER}/athletes/crow"),
    };
    (healthy, aim)
}

fn database(folder: &Path) -> std::path::PathBuf {
    folder.join("log.sqlite")
}

/// A new key of a role.
async fn key(folder: &Path, role: &str, athlete: Option<&str>) -> String {
    let new = NewKey {
        role: role.to_owned(),
        title: role.to_owned(),
        rosters: if role == "operator" { Vec::new() } else { vec!["hall".to_owned()] },
        athlete: athlete.map(ToOwned::to_owned),
        expires_at_ms: None,
    };
    let (text, _) = make(&database(folder).as_path().into(), new).await.expect("a key");
    text.reveal()
}
