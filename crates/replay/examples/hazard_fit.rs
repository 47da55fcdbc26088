//! Times a fit of the hazard baseline on sets of invented athletes; the number of rows is the first argument. A second one names
//! a file to which the rows go, the outcome last, for `side_by_side.py`.

#![expect(clippy::print_stdout, reason = "printing is what this example is for")]

use std::error::Error;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;
use std::time::Instant;

use nextrung_capacity::task::Task;
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_replay::dice::Dice;
use nextrung_replay::hazard::Ask;
use nextrung_replay::hazard::athlete::HazardAthlete;
use nextrung_replay::hazard::model::{fit, rows};
use nextrung_replay::hazard::sample::{RowSample, SetName};
use nextrung_replay::ladders;

/// Sets of one athlete over two years, on every rung that is not out of reach.
fn train(catalog: &Catalog, number: u64, sample: &mut RowSample) -> Result<(), Box<dyn Error>> {
    let mut dice = Dice::new(1, number);
    let gifts: Vec<f64> = catalog.abilities().iter().map(|a| a.start_level + 0.6 * dice.normal()).collect();
    let mut athlete = HazardAthlete::new(catalog);
    let rungs = u16::try_from(catalog.rung_count())?;
    let mut set = 0;
    for day in (0..728).step_by(3) {
        for _ in 0..3 {
            let rung = RungIx(u16::try_from(dice.below(usize::from(rungs)))?);
            let task = Task::new(catalog, rung, &[], 1.0);
            let able = task.demands().iter().map(|d| gifts[d.ability.at()] - d.difficulty).reduce(f64::min);
            let Some(able) = able.filter(|able| *able > 0.0) else { continue };
            for _ in 0..4 {
                let unit = catalog.rung(rung).unit;
                let units = libm::exp(able + 0.1 * dice.logistic()).min(f64::from(unit.most()) - 1.0);
                let most = (0..unit.most()).rev().find(|n| f64::from(*n) <= units).unwrap_or(0);
                let target = if unit == Unit::Reps { 5 } else { 20 };
                let ask = Ask {
                    task: &task,
                    unit,
                    purpose: Purpose::ALL[dice.below(5)],
                    target: dice.chance(0.7).then_some(target),
                    day,
                    session: 1,
                    rest_seconds: Some(120),
                };
                let reached = ask.target.is_some_and(|target| most >= target);
                let (done, stop) = if reached { (target, Stop::Target) } else { (most, Stop::Failed) };
                let name = SetName { athlete: &number.to_string(), set: &format!("{day}-{set}"), block: 0 };
                sample.add(&name, athlete.ask(&ask), (done, stop))?;
                athlete.learn(&ask, done, stop);
                set += 1;
            }
        }
    }
    Ok(())
}

fn main() -> Result<(), Box<dyn Error>> {
    let room: usize = std::env::args().nth(1).map_or(Ok(100_000), |text| text.parse())?;
    let catalog = ladders::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data"))?;
    let mut sample = RowSample::new(room);
    let begun = Instant::now();
    let mut athletes = 0;
    while sample.seen().rows < u64::try_from(room)? {
        train(&catalog, athletes, &mut sample)?;
        athletes += 1;
    }
    println!(
        "{athletes} athletes, {:?} seen, {:?} kept: {:.2?}",
        sample.seen(),
        sample.kept(),
        begun.elapsed()
    );
    if let Some(path) = std::env::args().nth(2) {
        let mut file = BufWriter::new(File::create(path)?);
        for (row, failed) in rows(&sample) {
            row.iter().try_for_each(|value| write!(file, "{value},"))?;
            writeln!(file, "{}", u8::from(failed))?;
        }
        file.flush()?;
    }
    let begun = Instant::now();
    let model = fit(&sample, 1.0)?;
    println!("fit: {:.2?}, {:e} standard errors off", begun.elapsed(), model.logit().off);
    for (name, coefficient) in
        nextrung_replay::hazard::features::NAMES.iter().zip(&model.logit().coefficients)
    {
        println!("{coefficient:9.4}  {name}");
    }
    Ok(())
}
