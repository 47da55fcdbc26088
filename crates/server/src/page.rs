//! Pages: sizes and tokens of lists.

use nextrung_domain::problem::Problem;
use nextrung_store::page::Page;
use sha2::{Digest, Sha256};
use tonic::Status;

use crate::status::{bad_fields, bad_page_token};

/// Items of a page when the client does not say.
const USUAL: u32 = 50;
/// Most items of a page.
const MOST: u32 = 1000;

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

    /// The page asked for. Fails on a negative size or a token of another list.
    pub fn page(&self, size: i32, token: &str) -> Result<Page, Status> {
        let size = match u32::try_from(size) {
            Ok(0) => USUAL,
            Ok(n) => n.min(MOST),
            Err(_) => {
                let problem = Problem::new("page_size", size.to_string(), "0 for the usual 50, or 1 to 1000");
                return Err(bad_fields(&[problem]));
            }
        };
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
        assert!(list.page(-1, "").is_err());
        assert_eq!(list.page(0, "").unwrap().size, 50);
        assert_eq!(list.page(5000, "").unwrap().size, 1000);
    }
}
