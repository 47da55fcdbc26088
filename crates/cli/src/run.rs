//! Run: reads the command line, does what it says, and turns what happened into an exit code.

use std::io;
use std::process::ExitCode;

use clap::Parser;
use clap::error::ErrorKind;

use crate::arguments::{Arguments, Command, Shared};
use crate::connection::{Connection, Pass};
use crate::failure::Failure;
use crate::output::Output;
use crate::{
    athlete, capacity, database, demo, forecast, gates, key, ladders, manual, prescribe, record, refit,
    replay, review, roster, serve, sets, sheet, suppose, trend, watch, week, why, workbook,
};

/// What a verb of a client works with.
pub(crate) struct Desk {
    /// The service.
    pub(crate) service: Connection,
    /// Where the answer goes.
    pub(crate) output: Output,
    /// The roster of athletes named without one.
    pub(crate) roster: Option<String>,
}

impl Desk {
    /// The resource name of an athlete.
    pub(crate) fn athlete(&self, text: &str) -> Result<String, Failure> {
        crate::names::athlete(text, self.roster.as_deref())
    }
}

/// Runs the program.
pub(crate) fn run() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            drop(error.print());
            return ExitCode::from(usage_code(error.kind()));
        }
    };
    let mut output = Output::standard(arguments.shared.json);
    let runtime = match tokio::runtime::Builder::new_multi_thread().enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => return finish(&mut output, Err(Failure::internal(&format!("no threads: {error}")))),
    };
    let done = runtime.block_on(obey(arguments));
    // A thread that hangs, on a disk say, must not hold up the end.
    runtime.shutdown_background();
    finish(&mut output, done)
}

async fn obey(arguments: Arguments) -> Result<(), Failure> {
    let Arguments { command, shared } = arguments;
    match command {
        Command::Serve(serve) => serve::run(&serve, Output::standard(shared.json)).await,
        Command::Demo(demo) => demo::run(&demo, Output::standard(shared.json)).await,
        Command::Database(verb) => database::run(&verb, Output::standard(shared.json)).await,
        Command::Roster(verb) => roster::run(&verb, desk(shared).await?).await,
        Command::Athlete(verb) => athlete::run(&verb, desk(shared).await?).await,
        Command::Record(record) => record::run(&record, desk(shared).await?).await,
        Command::Sets(verb) => sets::run(&verb, desk(shared).await?).await,
        Command::Sheet(verb) => sheet::run(&verb, desk(shared).await?).await,
        Command::Prescribe(prescribe) => prescribe::run(&prescribe, desk(shared).await?).await,
        Command::Why(why) => why::run(&why, desk(shared).await?).await,
        Command::Suppose(suppose) => suppose::run(&suppose, desk(shared).await?).await,
        Command::Watch(watch) => watch::run(&watch, desk(shared).await?).await,
        Command::Prescriptions(verb) => prescribe::run_kept(&verb, desk(shared).await?).await,
        Command::Ladders(verb) => ladders::run(&verb, desk(shared).await?).await,
        Command::Capacity(capacity) => capacity::run(&capacity, desk(shared).await?).await,
        Command::Review(review) => review::run(&review, desk(shared).await?).await,
        Command::Gates(gates) => gates::run(&gates, desk(shared).await?).await,
        Command::Week(week) => week::run(&week, desk(shared).await?).await,
        Command::Trend(trend) => trend::run(&trend, desk(shared).await?).await,
        Command::Forecast(forecast) => forecast::run(&forecast, desk(shared).await?).await,
        Command::Workbook(verb) => workbook::run(&verb, desk(shared).await?).await,
        Command::Key(verb) => key::run(&verb, Output::standard(shared.json)).await,
        Command::Manual(verb) => manual::run(&verb, Output::standard(shared.json)),
        Command::Refit(verb) => refit::run(&verb, Output::standard(shared.json)),
        Command::Replay(verb) => replay::run(&verb, shared).await,
    }
}

/// A desk for the service that the flags name.
pub(crate) async fn desk(shared: Shared) -> Result<Desk, Failure> {
    let identity = shared.certificate.zip(shared.certificate_key);
    let pass = Pass { key: shared.key, authority: shared.authority, identity };
    let service = Connection::open(&shared.server, &pass).await?;
    Ok(Desk { service, output: Output::standard(shared.json), roster: shared.roster })
}

fn finish(output: &mut Output, done: Result<(), Failure>) -> ExitCode {
    match done {
        Ok(()) => ExitCode::SUCCESS,
        // The reader of a pipe that has seen enough, such as `head`, is no failure.
        Err(Failure::Output { source }) if source.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(failure) => {
            output.fail(&failure);
            ExitCode::from(failure.exit_code())
        }
    }
}

/// Help that was asked for is done; all else that the parser stops at is wrong usage.
fn usage_code(kind: ErrorKind) -> u8 {
    if matches!(kind, ErrorKind::DisplayHelp | ErrorKind::DisplayVersion) { 0 } else { 2 }
}
