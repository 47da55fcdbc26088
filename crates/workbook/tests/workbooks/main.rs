//! Workbooks: new ones as their XML has them, and our sheet in those of somebody else.

#[expect(clippy::unwrap_used, reason = "a test ends where its archive cannot be read")]
mod archive;
#[expect(clippy::unwrap_used, reason = "a test ends where its archive cannot be read")]
mod new_books;
#[expect(clippy::unwrap_used, reason = "a test ends where its archive cannot be read")]
mod others_books;
#[expect(clippy::unwrap_used, reason = "a test ends where its archive cannot be read")]
mod pages;
mod sample;
