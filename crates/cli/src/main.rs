//! The binary `nextrung`: serves the service, shows a demo, and speaks to a running service.

mod arguments;
mod athlete;
mod bands;
mod calendar;
mod capacity;
mod connection;
mod database;
mod demo;
mod failure;
mod folder;
mod forecast;
mod gates;
mod json;
mod key;
mod ladders;
mod lexicon;
mod manual;
mod names;
mod output;
mod paragraph;
mod picture;
mod prescribe;
mod profile;
mod progress;
mod record;
mod refit;
mod refusal;
mod replay;
mod request_id;
mod review;
mod roster;
mod run;
mod serve;
mod service;
mod set_flags;
mod sets;
mod setting_flags;
mod sheet;
mod shell;
mod suppose;
mod table;
mod trend;
mod view;
mod watch;
mod week;
mod why;
mod words;
mod workbook;

use std::process::ExitCode;

fn main() -> ExitCode {
    run::run()
}
