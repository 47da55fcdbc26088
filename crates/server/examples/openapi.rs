//! Prints the OpenAPI description of the contract over plain HTTP.

use std::io::Write;

fn main() -> std::io::Result<()> {
    std::io::stdout().write_all(nextrung_server::openapi::document().as_bytes())
}
