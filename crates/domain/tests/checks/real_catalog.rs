//! The ladders of `data/`: sound, complete enough, and in an order a mid athlete would agree with.

use std::fs;
use std::path::{Path, PathBuf};

use nextrung_domain::band::Bands;
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::ladder::Basis;
use nextrung_domain::ladder_file::{NamedText, load_catalog};

/// The data folder.
pub(crate) fn data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data")
}

pub(crate) fn read(path: &Path) -> (String, String) {
    let text = fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let name = path.file_name().expect("a file").to_string_lossy().into_owned();
    (name, text)
}

/// Every ladder file of `data/ladders`, by name.
pub(crate) fn ladder_files() -> Vec<(String, String)> {
    let entries = fs::read_dir(data().join("ladders")).expect("data/ladders is there");
    let mut paths: Vec<PathBuf> = entries.map(|e| e.expect("readable").path()).collect();
    paths.retain(|p| p.extension().is_some_and(|x| x == "toml"));
    paths.sort();
    paths.iter().map(|p| read(p)).collect()
}

fn real_catalog() -> Catalog {
    let (name, text) = read(&data().join("abilities.toml"));
    let files = ladder_files();
    let named: Vec<NamedText<'_>> = files.iter().map(|(name, text)| NamedText { name, text }).collect();
    load_catalog(NamedText { name: &name, text: &text }, &named).unwrap_or_else(|problems| {
        let list: Vec<String> = problems.iter().map(ToString::to_string).collect();
        panic!("{} problems:\n{}", list.len(), list.join("\n"))
    })
}

/// How hard a rung is for an athlete at the start level of every ability: ln of the middle of the working band over
/// ln of what the limiting ability gives, so that rungs of different units compare. 0 is in the middle of the band.
fn hardness(catalog: &Catalog, ix: RungIx) -> f64 {
    let rung = catalog.rung(ix);
    let band = rung.band.unwrap_or(Bands::default().of(rung.unit).working);
    let middle = (f64::from(band.low) * (f64::from(band.high) + 1.0)).sqrt();
    let eta = |d: &nextrung_domain::ladder::Demand| catalog.ability(d.ability).start_level - d.difficulty;
    libm::log(middle) - rung.demands.iter().map(eta).fold(f64::INFINITY, f64::min)
}

#[test]
#[expect(clippy::print_stdout, reason = "the figures are part of what a run reports")]
fn the_catalog_has_twelve_ladders_and_a_hundred_rungs() {
    let catalog = real_catalog();
    let rungs: usize = catalog.ladders().iter().map(|l| l.rungs.len()).sum();
    println!("{} abilities, {} ladders, {rungs} rungs", catalog.abilities().len(), catalog.ladders().len());
    assert_eq!(rungs, catalog.rung_count());
    assert!(catalog.ladders().len() >= 12, "{} ladders", catalog.ladders().len());
    assert!(rungs >= 100, "{rungs} rungs");
    assert_eq!(catalog.ladders().len(), ladder_files().len(), "every file is a ladder");
}

#[test]
#[expect(clippy::print_stdout, reason = "the figures are part of what a run reports")]
fn rungs_are_in_order_of_hardness_for_a_mid_athlete() {
    // A step back smaller than this is below what the difficulties claim to know.
    const SLACK: f64 = 0.05;
    let catalog = real_catalog();
    let mut steps = 0;
    let mut back: Vec<String> = Vec::new();
    for ladder in catalog.ladders() {
        let rungs: Vec<RungIx> = catalog.rungs_of(&ladder.id).collect();
        for pair in rungs.windows(2) {
            let (a, b) = (hardness(&catalog, pair[0]), hardness(&catalog, pair[1]));
            steps += 1;
            if b < a - SLACK {
                back.push(format!("{} {a:.2} -> {} {b:.2}", catalog.name(pair[0]), catalog.name(pair[1])));
            }
        }
    }
    println!("{} of {steps} steps go down:\n{}", back.len(), back.join("\n"));
    assert!(back.len() * 20 <= steps, "{} of {steps} steps go down:\n{}", back.len(), back.join("\n"));
}

#[test]
fn every_number_names_its_source_and_anchors_are_the_only_zeros_by_definition() {
    let catalog = real_catalog();
    for n in 0..catalog.rung_count() {
        let ix = RungIx(u16::try_from(n).expect("few rungs"));
        for demand in &catalog.rung(ix).demands {
            let ability = catalog.ability(demand.ability);
            let is_anchor = ability.anchor == catalog.name(ix);
            assert_eq!(demand.basis == Basis::Anchor, is_anchor, "{} on {}", catalog.name(ix), ability.id);
            assert!(demand.source.len() >= 8, "{}: source `{}`", catalog.name(ix), demand.source);
            assert!(is_anchor || demand.sd > 0.0, "{}: a difficulty known exactly", catalog.name(ix));
        }
    }
}

#[test]
fn every_shading_is_offered_somewhere_and_every_rung_can_be_reached_by_name() {
    let catalog = real_catalog();
    for ladder in catalog.ladders() {
        for shading in &ladder.shadings {
            let offered = ladder.rungs.iter().any(|r| r.shadings.contains(&shading.id));
            assert!(offered, "{}: shading {} is offered on no rung", ladder.id, shading.id);
        }
    }
    for n in 0..catalog.rung_count() {
        let ix = RungIx(u16::try_from(n).expect("few rungs"));
        assert_eq!(catalog.find(&catalog.name(ix)), Some(ix));
        assert_eq!(catalog.ladder(&catalog.name(ix).ladder).map(|l| &l.id), Some(&catalog.ladder_of(ix).id));
    }
}

#[test]
fn a_shading_acts_on_every_rung_that_offers_it() {
    let catalog = real_catalog();
    let mut idle: Vec<String> = Vec::new();
    for ladder in catalog.ladders() {
        for rung in &ladder.rungs {
            for id in &rung.shadings {
                let shading = ladder.shading(id).expect("checked when read");
                let acts = shading
                    .change
                    .iter()
                    .any(|(ability, _)| rung.demands.iter().any(|d| d.ability == *ability));
                if !acts {
                    idle.push(format!("{}/{}: {id}", ladder.id, rung.id));
                }
            }
        }
    }
    assert!(idle.is_empty(), "shadings that change nothing the rung asks for:\n{}", idle.join("\n"));
}

#[test]
fn inverted_rungs_warn() {
    let catalog = real_catalog();
    for ladder in catalog.ladders() {
        for rung in ladder.rungs.iter().filter(|r| r.inverted) {
            assert!(
                !ladder.cautions.is_empty() || !rung.cautions.is_empty(),
                "{}/{}: head below the heart, and no caution",
                ladder.id,
                rung.id
            );
        }
    }
}
