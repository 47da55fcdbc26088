//! Setting flags: one flag for every setting of the service, made from the list of settings.

use std::collections::BTreeMap;

use clap::{Arg, ArgMatches, Args, Command, FromArgMatches};
use nextrung_server::configuration::{Entry, entries, flag};

/// What was said by flags, by key; read and checked with the other layers.
#[derive(Debug, Clone, Default)]
pub(crate) struct SettingFlags(pub(crate) BTreeMap<String, String>);

fn arg(entry: &Entry) -> Arg {
    let first = entry.about.split_inclusive(". ").next().unwrap_or(entry.about);
    let first = first.trim_end().trim_end_matches('.');
    let long = flag(entry.key).trim_start_matches('-').to_owned();
    Arg::new(entry.key).long(long).value_name("VALUE").help(format!("{first} [default: {}]", entry.default))
}

impl Args for SettingFlags {
    fn augment_args(command: Command) -> Command {
        let command = command.next_help_heading("Settings");
        entries()
            .iter()
            .fold(command, |command, entry| command.arg(arg(entry)))
            .next_help_heading(None::<&str>)
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}

impl FromArgMatches for SettingFlags {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let said = |entry: &Entry| {
            matches.get_one::<String>(entry.key).map(|text| (entry.key.to_owned(), text.clone()))
        };
        Ok(Self(entries().iter().filter_map(said).collect()))
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        self.0.extend(Self::from_arg_matches(matches)?.0);
        Ok(())
    }
}
