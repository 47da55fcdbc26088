//! Arguments: the command line as a whole, and what all verbs share.

use std::convert::Infallible;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use nextrung_server::secret::Secret;

use crate::athlete::AthleteVerb;
use crate::capacity::CapacityArguments;
use crate::database::DatabaseVerb;
use crate::demo::DemoArguments;
use crate::forecast::ForecastArguments;
use crate::gates::GatesArguments;
use crate::key::KeyVerb;
use crate::ladders::LaddersVerb;
use crate::manual::ManualVerb;
use crate::prescribe::{PrescribeArguments, PrescriptionsVerb};
use crate::record::RecordArguments;
use crate::refit::RefitVerb;
use crate::replay::ReplayVerb;
use crate::review::ReviewArguments;
use crate::roster::RosterVerb;
use crate::serve::ServeArguments;
use crate::sets::SetsVerb;
use crate::sheet::SheetVerb;
use crate::suppose::SupposeArguments;
use crate::trend::TrendArguments;
use crate::watch::WatchArguments;
use crate::week::WeekArguments;
use crate::why::WhyArguments;
use crate::workbook::WorkbookVerb;

/// What every help page looks like: what it is for, then examples, then the list of options.
pub(crate) const HELP: &str =
    "{about-with-newline}\n{before-help}{usage-heading} {usage}\n\n{all-args}{after-help}";

const EXAMPLES: &str = "Examples:
  nextrung demo                                    see it work, with invented athletes
  nextrung serve --database hall.db                run the service on this machine
  nextrung roster add hall --title \"The hall\"
  nextrung athlete add hall/wren --name Wren --goal pull/one-arm-pull-up --equipment bar,band
  nextrung record hall/wren --set 1 --rung pull/pull-up --reps 5 --target 5 --stop target
  nextrung prescribe hall/wren --date tomorrow
  nextrung why hall/wren/PRESCRIPTION";

const EXIT_CODES: &str = "Exit codes:
  0  done
  1  the service refused, or there is no such thing
  2  wrong usage, or a file with errors
  3  the service could not be reached or did not answer in time
  4  a fault of this program or of the service

Tables go to standard output, messages to standard error. General training information, not medical advice.";

/// Says which rung of a progression ladder to train next, and why.
#[derive(Debug, Parser)]
#[command(name = "nextrung", version, help_template = HELP, before_help = EXAMPLES, after_help = EXIT_CODES)]
#[command(disable_help_subcommand = true, subcommand_required = true, arg_required_else_help = true)]
pub(crate) struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Command,

    /// What all verbs share.
    #[command(flatten)]
    pub(crate) shared: Shared,
}

/// What all verbs share.
#[derive(Debug, Args)]
#[command(next_help_heading = "For every verb")]
pub(crate) struct Shared {
    /// Print the service's answer as JSON (the contract's own, camel case)
    #[arg(long, global = true)]
    pub(crate) json: bool,

    /// Where the service listens
    #[arg(
        long,
        global = true,
        value_name = "URL",
        env = "NEXTRUNG_SERVER",
        hide_env_values = true,
        default_value = "http://127.0.0.1:7878"
    )]
    pub(crate) server: String,

    /// The key to show to the service, where it asks for one; better set in the environment than told here
    #[arg(long, global = true, value_name = "KEY", env = "NEXTRUNG_KEY", hide_env_values = true, value_parser = secret)]
    pub(crate) key: Option<Secret>,

    /// The authority that vouches for the service (PEM), where the machine does not know it
    #[arg(long, global = true, value_name = "FILE", env = "NEXTRUNG_AUTHORITY", hide_env_values = true)]
    pub(crate) authority: Option<PathBuf>,

    /// Your own certificate (PEM), where the service asks callers for one
    #[arg(
        long,
        global = true,
        value_name = "FILE",
        env = "NEXTRUNG_CERTIFICATE",
        hide_env_values = true,
        requires = "certificate_key"
    )]
    pub(crate) certificate: Option<PathBuf>,

    /// The key of your own certificate (PEM)
    #[arg(
        long,
        global = true,
        value_name = "FILE",
        env = "NEXTRUNG_CERTIFICATE_KEY",
        hide_env_values = true,
        requires = "certificate"
    )]
    pub(crate) certificate_key: Option<PathBuf>,

    /// The roster of athletes named without one (`wren` for `hall/wren`)
    #[arg(long, global = true, value_name = "ROSTER", env = "NEXTRUNG_ROSTER", hide_env_values = true)]
    pub(crate) roster: Option<String>,
}

/// Takes any text as a secret.
fn secret(text: &str) -> Result<Secret, Infallible> {
    Ok(Secret::new(text))
}

/// The verbs.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// See it work: an invented roster, its half year of sets, and what it should train tomorrow
    Demo(DemoArguments),
    /// Run the service on this machine
    Serve(ServeArguments),
    /// Copy rosters between a file and a PostgreSQL database; back a file up and restore it
    #[command(subcommand)]
    Database(DatabaseVerb),
    /// Keep rosters: a coach's athletes
    #[command(subcommand)]
    Roster(RosterVerb),
    /// Keep athletes: goals, equipment, days, limits, clearances
    #[command(subcommand)]
    Athlete(AthleteVerb),
    /// Record one set, or a whole sheet of them
    Record(RecordArguments),
    /// Take in sheets of coaches' own making: CSV, xlsx, ods
    #[command(subcommand)]
    Sheet(SheetVerb),
    /// List, correct and withdraw recorded sets
    #[command(subcommand)]
    Sets(SetsVerb),
    /// Say what an athlete should train on a day, and keep it
    Prescribe(PrescribeArguments),
    /// Say why a prescription is as it is
    Why(WhyArguments),
    /// Say what would be prescribed if things were otherwise
    Suppose(SupposeArguments),
    /// Tell what athletes are to train, and again each time a recorded set changes it
    Watch(WatchArguments),
    /// List and show prescriptions as they were issued
    #[command(subcommand)]
    Prescriptions(PrescriptionsVerb),
    /// List, show and check ladders
    #[command(subcommand)]
    Ladders(LaddersVerb),
    /// Estimate what an athlete could do on every rung
    Capacity(CapacityArguments),
    /// Say what holds an athlete back: strength, balance, line, the wrong rung, or too little training
    Review(ReviewArguments),
    /// Say which gates stand on the way to a rung, which are met, and who confirmed what
    Gates(GatesArguments),
    /// Plan a week: what each day is for
    Week(WeekArguments),
    /// Show what an athlete could do over time, and how often sets failed
    Trend(TrendArguments),
    /// Say when the first clean unit on a goal rung is likely
    Forecast(ForecastArguments),
    /// Write workbooks for people, and keep a folder of theirs in step
    #[command(subcommand)]
    Workbook(WorkbookVerb),
    /// Measure predictions and advice on histories
    #[command(subcommand)]
    Replay(ReplayVerb),
    /// Learn the ladders anew from logs, try it, keep it
    #[command(subcommand)]
    Refit(RefitVerb),
    /// Make, list and revoke the keys of callers
    #[command(subcommand)]
    Key(KeyVerb),
    /// Write manual pages, and completions for shells
    #[command(subcommand)]
    Manual(ManualVerb),
}

/// The request id of a write.
#[derive(Debug, Args)]
pub(crate) struct RequestIdFlag {
    /// Send a write again that may already have been kept: the id that was shown with the failure
    #[arg(long, value_name = "ID")]
    pub(crate) request_id: Option<String>,
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn the_command_line_is_sound() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn every_help_page_gives_an_example_before_its_usage() {
        fn check(command: &mut clap::Command, path: &str) {
            let page = command.render_help().to_string();
            let (example, usage) = (page.find("Examples:\n  nextrung "), page.find("Usage:"));
            assert!(example.is_some() && example < usage, "{path}:\n{page}");
            for inner in command.get_subcommands_mut() {
                let path = format!("{path} {}", inner.get_name());
                check(inner, &path);
            }
        }
        let mut command = Arguments::command();
        command.build();
        check(&mut command, "nextrung");
    }

    #[test]
    fn examples_fit_a_line() {
        fn check(command: &mut clap::Command) {
            for line in command.get_before_help().map(ToString::to_string).unwrap_or_default().lines() {
                assert!(line.chars().count() <= 98, "{line}");
            }
            command.get_subcommands_mut().for_each(check);
        }
        check(&mut Arguments::command());
    }

    #[test]
    fn the_exit_codes_are_documented() {
        let page = Arguments::command().render_help().to_string();
        for code in 0..=4 {
            assert!(page.contains(&format!("\n  {code}  ")), "{code}");
        }
    }
}
