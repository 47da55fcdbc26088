//! Parts: names, days, pages and ids of requests, read in any message that has them.

use std::fmt::Display;

use nextrung_api::v1;
use nextrung_domain::ids::RungRef;
use nextrung_server::convert::words;
use nextrung_server::fields::Read;
use nextrung_server::page::{self, List};
use nextrung_server::{fingerprint, names};
use nextrung_store::record::Days;
use prost::Message;

use crate::contract;
use crate::world::World;

/// Where parts are read: a message of the contract, and the world.
pub(super) struct Within {
    message: &'static str,
    pub(super) world: &'static World,
}

/// A page as it is asked for.
pub(super) struct Page<'a> {
    pub(super) size: i32,
    pub(super) token: &'a str,
}

impl Within {
    pub(super) fn new(message: &'static str, world: &'static World) -> Self {
        Self { message, world }
    }

    /// What was read; what was refused names fields of the message.
    pub(super) fn named<T>(&self, read: Read<T>) -> Option<T> {
        contract::named(self.message, read)
    }

    /// A name that was taken is written as it came.
    fn name<T>(&self, came: &str, read: Read<T>, write: impl FnOnce(T) -> String) {
        if let Some(id) = self.named(read) {
            assert_eq!(write(id), came);
        }
    }

    pub(super) fn roster(&self, field: &str, name: &str) {
        self.name(name, names::roster(field, name), |id| names::of_roster(&id));
    }

    pub(super) fn athlete(&self, field: &str, name: &str) {
        self.name(name, names::athlete(field, name), |id| id.to_string());
    }

    pub(super) fn ladder(&self, field: &str, name: &str) {
        self.name(name, names::ladder(field, name), |id| names::of_ladder(&id));
    }

    pub(super) fn set(&self, field: &str, name: &str) {
        self.name(name, names::set(field, name), |(athlete, id)| format!("{athlete}/sets/{id}"));
    }

    pub(super) fn prescription(&self, field: &str, name: &str) {
        let write = |(athlete, id): (_, _)| written(athlete, "prescriptions", id);
        self.name(name, names::prescription(field, name), write);
    }

    /// A rung's name keeps its rung, whichever way it was written.
    pub(super) fn rung(&self, name: &str) {
        let text = names::rung_text(name);
        if let Ok(rung) = RungRef::parse(&text) {
            assert!(text == name || names::of_rung(&rung) == name, "{name:?} became {text:?}");
        }
    }

    pub(super) fn date(&self, field: &str, date: Option<v1::Date>) {
        if let Some(read) = self.named(words::date(field, date)) {
            assert_eq!(Some(words::of_date(read)), date);
        }
    }

    pub(super) fn optional_date(&self, field: &str, date: Option<v1::Date>) {
        if let Some(read) = self.named(words::optional_date(field, date)) {
            assert_eq!(read.map(words::of_date), date);
        }
    }

    pub(super) fn days(&self, start: Option<v1::Date>, end: Option<v1::Date>) -> Option<Days> {
        self.named(words::days(start, end))
    }

    pub(super) fn page(&self, page: &Page<'_>) {
        if let Some(size) = self.named(page::size(page.size)) {
            assert!((1..=1000).contains(&size));
            let list = List::new("ListRosters", "");
            if let Ok(read) = list.page(size, page.token) {
                assert_eq!(list.token(read.after), page.token);
            }
        }
    }

    pub(super) fn request(&self, method: &'static str, id: String, content: &impl Message) {
        if let Some(request) = self.named(fingerprint::request(method, id.clone(), content)) {
            assert_eq!((request.id, request.method), (id, method));
        }
    }
}

fn written(parent: impl Display, collection: &str, id: impl Display) -> String {
    format!("{parent}/{collection}/{id}")
}
