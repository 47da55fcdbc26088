//! Prints the page of every setting.

use std::io::Write;

fn main() -> std::io::Result<()> {
    std::io::stdout().write_all(nextrung_server::configuration::page().as_bytes())
}
