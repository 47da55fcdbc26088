//! Pages: sizes and tokens of lists.

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

    /// The page a token stands for, the first one without. Fails on a token of another list.
    pub fn page(&self, size: u32, token: &str) -> Result<Page, Status> {
        if token.is_empty() {
            return Ok(Page::first(size));
        }
        let after = token.split_once('.').filter(|(tag, _)| *tag == self.tag).map(|(_, after)| after);
        after.map(|after| Page::after(size, after)).ok_or_else(bad_page_token)
    }

    /// The token that goes on after an item; empty at the end.
    pub fn token(&self, next: Option<String>) -> String {
        next.map(|after| format!("{}.{after}", self.tag)).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_serves_its_own_list_only() {
        let list = List::new("ListSets", "a");
        let token = list.token(Some("x.y".to_owned()));
        assert_eq!(list.page(5, &token).unwrap(), Page::after(5, "x.y"));
        assert!(List::new("ListSets", "b").page(5, &token).is_err());
    }

    #[test]
    fn sizes_keep_to_their_range() {
        assert_eq!([0, 1, 1000, 5000].map(size), [Ok(50), Ok(1), Ok(1000), Ok(1000)]);
        assert_eq!(size(-1).unwrap_err()[0].field, "page_size");
    }
}
