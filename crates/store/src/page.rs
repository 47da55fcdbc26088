//! Pages: a part of a list, stable while the list grows.

use crate::error::StoreError;

/// Which part of a list is wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    /// Most items, at least 1.
    pub size: u32,
    /// Start after the item with this id; from the start when nothing.
    pub after: Option<String>,
}

impl Page {
    /// The first `size` items.
    pub fn first(size: u32) -> Self {
        Self { size, after: None }
    }

    /// The `size` items after the item with id `after`.
    pub fn after(size: u32, after: impl Into<String>) -> Self {
        Self { size, after: Some(after.into()) }
    }

    /// Rows to read: one more than wanted, to see whether more follow. Fails with [`StoreError::Refused`] on size 0.
    pub(crate) fn rows(&self) -> Result<i64, StoreError> {
        if self.size == 0 {
            return Err(StoreError::Refused { field: "page.size", expected: "at least 1" });
        }
        Ok(i64::from(self.size) + 1)
    }
}

/// A part of a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listing<T> {
    /// The items, in the list's order.
    pub items: Vec<T>,
    /// [`Page::after`] of the next part; nothing on the last one.
    pub next: Option<String>,
}

impl<T> Listing<T> {
    /// Cuts what was read for `page` (see [`Page::rows`]) to its size; `id` names an item.
    pub(crate) fn cut(mut items: Vec<T>, page: &Page, id: impl Fn(&T) -> &str) -> Self {
        let size = usize::try_from(page.size).unwrap_or(usize::MAX);
        let more = items.len() > size;
        items.truncate(size);
        let next = items.last().filter(|_| more).map(|last| id(last).to_owned());
        Self { items, next }
    }
}
