//! Pages: sizes and tokens of lists.

use nextrung_domain::date::CivilDate;
use nextrung_domain::event::OrderKey;
use nextrung_domain::ids::LadderId;
use nextrung_domain::measure::{SessionNumber, SetNumber};
use nextrung_domain::set::Place;
use nextrung_store::page::Page;
use sha2::{Digest, Sha256};
use tonic::Status;

use crate::fields::{Read, bad};
use crate::status::bad_page_token;

/// Items of a page when the client does not say.
const USUAL: u32 = 50;
/// Most items of a page.
const MOST: u32 = 1000;

/// How many items a page has. Fails on a negative number.
pub fn size(page_size: i32) -> Read<u32> {
    match u32::try_from(page_size) {
        Ok(0) => Ok(USUAL),
        Ok(n) => Ok(n.min(MOST)),
        Err(_) => bad("page_size", page_size.to_string(), "0 for the usual 50, or 1 to 1000"),
    }
}

/// A list with its filters; tokens belong to one.
pub struct List {
    tag: String,
}

impl List {
    /// A list; `filters` is every field of the request but the page's.
    pub fn new(method: &str, filters: &str) -> Self {
        let digest = Sha256::digest(format!("{method}\n{filters}"));
        Self { tag: digest.iter().take(6).map(|b| format!("{b:02x}")).collect() }
    }

    /// The page of a list by ids that a token stands for, the first one without. Fails on a token of another list, or one that
    /// goes on after no id: whoever made that did not get it here, and databases differ in the texts they take.
    pub fn page(&self, size: u32, token: &str) -> Result<Page, Status> {
        match self.after(token)? {
            None => Ok(Page::first(size)),
            // What is listed by id has slugs for ids, whatever it is.
            Some(after) if LadderId::new(after).is_ok() => Ok(Page::after(size, after)),
            Some(_) => Err(bad_page_token()),
        }
    }

    /// The place in training order that a token of a list of sets stands for, nothing without a token. Fails on a token of
    /// another list, or one that no place is written as.
    pub fn place(&self, token: &str) -> Result<Option<OrderKey>, Status> {
        let Some(after) = self.after(token)? else { return Ok(None) };
        let key = read_key(after).filter(|key| write_key(key) == after);
        key.map(Some).ok_or_else(bad_page_token)
    }

    /// What a token goes on after, nothing without one.
    fn after<'t>(&self, token: &'t str) -> Result<Option<&'t str>, Status> {
        if token.is_empty() {
            return Ok(None);
        }
        let parts = token.split_once('.').filter(|(tag, _)| *tag == self.tag);
        parts.map(|(_, after)| Some(after)).ok_or_else(bad_page_token)
    }

    /// The token that goes on after a place in training order; empty at the end.
    pub fn token_of_place(&self, next: Option<&OrderKey>) -> String {
        self.token(next.map(write_key))
    }

    /// The token that goes on after an item; empty at the end.
    pub fn token(&self, next: Option<String>) -> String {
        next.map(|after| format!("{}.{after}", self.tag)).unwrap_or_default()
    }
}

/// A place as the end of a token: day, session, set, sequence.
fn write_key(key: &OrderKey) -> String {
    let Place { date, session, number } = key.place;
    format!("{}.{}.{}.{}", date.day_number(), session.get(), number.get(), key.first_sequence)
}

fn read_key(text: &str) -> Option<OrderKey> {
    let mut parts = text.split('.');
    let mut next = || parts.next()?.parse::<i64>().ok();
    let (day, session, number, sequence) = (next()?, next()?, next()?, next()?);
    let place = Place {
        date: CivilDate::from_day_number(i32::try_from(day).ok()?).ok()?,
        session: SessionNumber::new(session)?,
        number: SetNumber::new(number)?,
    };
    Some(OrderKey { place, first_sequence: u64::try_from(sequence).ok()? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_serves_its_own_list_only() {
        let list = List::new("ListSets", "a");
        let token = list.token(Some("x-y".to_owned()));
        assert_eq!(list.page(5, &token).unwrap(), Page::after(5, "x-y"));
        assert!(List::new("ListSets", "b").page(5, &token).is_err());
    }

    #[test]
    fn repro_a_token_that_goes_on_after_no_id_is_refused() {
        let list = List::new("ListRosters", "");
        for end in ["", "\u{0}", "Hall", "hall.", "hall\u{0}", &"x".repeat(64)] {
            let token = format!("{}.{end}", list.tag);
            assert!(list.page(5, &token).is_err(), "{end:?}");
        }
    }

    #[test]
    fn repro_a_place_has_one_token() {
        let list = List::new("ListSets", "a");
        let key = list.place(&format!("{}.20000.1.3.17", list.tag)).unwrap();
        assert_eq!(list.token_of_place(key.as_ref()), format!("{}.20000.1.3.17", list.tag));
        for end in ["+20000.1.3.17", "20000.01.3.17", "20000.1.3.17.", "20000.1.3.17.x", "20000.1.3"] {
            assert!(list.place(&format!("{}.{end}", list.tag)).is_err(), "{end}");
        }
        assert_eq!(list.place("").unwrap(), None);
    }

    #[test]
    fn sizes_keep_to_their_range() {
        assert_eq!([0, 1, 1000, 5000].map(size), [Ok(50), Ok(1), Ok(1000), Ok(1000)]);
        assert_eq!(size(-1).unwrap_err()[0].field, "page_size");
    }
}
