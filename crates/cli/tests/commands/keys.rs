//! Keys as people make, show and revoke them, and what a service that asks for them says.

use nextrung_store::key::{KeyId, KeyRecord, Role};
use nextrung_store::log::{Log, LogOptions, Place};
use nextrung_store::store::Store;

use crate::program::{Ended, Served, run};

/// Runs a verb with a key.
fn with_key(served: &Served, arguments: &[&str], key: &str) -> Ended {
    served.run(&[arguments, &["--key", key]].concat())
}

#[test]
fn each_key_opens_what_it_is_for_until_it_is_revoked() {
    let folder = tempfile::tempdir().unwrap();
    let database = folder.path().join("hall.db").to_str().unwrap().to_owned();
    let key = |arguments: &[&str]| run(&[&["key"], arguments, &["--database", &database]].concat());
    let secret = |arguments: &[&str]| {
        let made = key(&[&["make"], arguments, &["--json"]].concat()).json();
        (made["secret"].as_str().unwrap().to_owned(), made["id"].as_str().unwrap().to_owned())
    };
    let (operator, _) = secret(&["operator", "--title", "The machine"]);
    let served = Served::with(folder, "hall.db", &["--keys", "true"]);
    let without = served.run(&["roster", "list"]);
    assert_eq!((without.code, without.stdout.as_str()), (1, ""));
    assert!(without.said().contains("a key is wanted"), "{}", without.stderr);
    assert!(
        without.said().contains("Set NEXTRUNG_KEY to your key, or tell it with --key"),
        "{}",
        without.stderr
    );
    with_key(&served, &["roster", "add", "hall", "--title", "The hall"], &operator).page();
    let (coach, id) = secret(&["coach", "--of", "hall", "--title", "Zoe"]);
    let wren = ["athlete", "add", "hall/wren", "--name", "Wren", "--equipment", "bar"];
    let other = with_key(&served, &wren, &operator);
    assert!(other.said().contains("is of the role operator; the method asks for coach"), "{}", other.stderr);
    with_key(&served, &wren, &coach).page();
    let phone = ["athlete", "--of", "hall", "--athlete", "wren", "--title", "Phone", "--until", "2036-01-31"];
    let (phone, _) = secret(&phone);
    with_key(&served, &["athlete", "show", "hall/wren"], &phone).page();
    assert_eq!(with_key(&served, &["athlete", "list", "hall"], &phone).code, 1);

    let list = key(&["list"]);
    for shown in ["operator", "Zoe", "hall/wren", "until 2036-01-31", &id] {
        assert!(list.page().contains(shown), "{shown}: {}", list.stdout);
    }
    for hidden in [&operator, &coach, &phone] {
        let secret = hidden.rsplit('-').next().unwrap();
        assert!(!list.stdout.contains(secret), "{}", list.stdout);
    }
    let again = key(&["make", "operator", "--title", "Another"]);
    let revoke = again.page().split("nextrung key revoke ").nth(1).unwrap().trim();
    assert!(revoke.ends_with(&format!(" --database {database}")), "{revoke}");
    run(&["key", "revoke", revoke.split(' ').next().unwrap(), "--database", &database]).page();
    assert!(key(&["revoke", &id]).page().contains("of Zoe is revoked"));
    let revoked = with_key(&served, &["athlete", "list", "hall"], &coach);
    assert!(revoked.said().contains("was revoked; ask for a new one"), "{}", revoked.stderr);
}

#[test]
fn what_makes_no_key_is_said_with_the_way_to_mend_it() {
    let folder = tempfile::tempdir().unwrap();
    let database = folder.path().join("hall.db").to_str().unwrap().to_owned();
    let key = |arguments: &[&str]| run(&[&["key"], arguments, &["--database", &database]].concat());
    for verb in [&["list"][..], &["revoke", "0123456789abcdef"]] {
        let ended = key(verb);
        assert_eq!(ended.code, 2);
        assert!(ended.said().contains("there is no database"), "{}", ended.stderr);
    }
    assert!(!folder.path().join("hall.db").exists(), "looking made a database");
    let bad = key(&["make", "boss", "--of", "HALL", "--athlete", "W", "--title", " "]);
    assert_eq!(bad.code, 2);
    for field in ["role: found `boss`", "of: found `HALL`", "athlete: found `W`", "title: found 0 bytes"] {
        assert!(bad.said().contains(field), "{field}: {}", bad.stderr);
    }
    let over = key(&["make", "operator", "--title", "Zoe", "--until", "2026-01-31"]);
    assert_eq!(over.code, 2);
    assert!(over.said().contains("until: found a day that is over; expected today"), "{}", over.stderr);
    let unfit = key(&["make", "coach", "--title", "Zoe"]);
    assert_eq!(unfit.code, 2);
    assert!(
        unfit.said().contains("whole rosters for a coach") && unfit.said().contains("--of"),
        "{}",
        unfit.stderr
    );
    let nowhere = key(&["make", "coach", "--of", "hall", "--title", "Zoe"]);
    assert!(nowhere.said().contains("there is no roster `rosters/hall`"), "{}", nowhere.stderr);
    let unknown = key(&["revoke", "0123456789abcdef"]);
    assert!(unknown.said().contains("there is no key"), "{}", unknown.stderr);
}

/// Such a key is not made by a verb, but gets there with the years.
#[tokio::test]
async fn a_key_whose_end_has_come_is_listed_as_expired() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("hall.db");
    let log = Log::open(&Place::File(file.clone()), LogOptions::default()).await.unwrap();
    let key = KeyRecord {
        id: KeyId::new("0123456789abcdef").unwrap(),
        secret_hash: [7; 32],
        role: Role::Operator,
        title: "The machine".to_owned(),
        reaches: Vec::new(),
        created_at_ms: 0,
        expires_at_ms: Some(2 * 86_400_000),
        revoked_at_ms: None,
    };
    log.create_key(key).await.unwrap();
    log.close().await.unwrap();
    let list = run(&["key", "list", "--database", file.to_str().unwrap()]);
    assert!(list.page().contains("expired, until 1970-01-02"), "{}", list.stdout);
}
