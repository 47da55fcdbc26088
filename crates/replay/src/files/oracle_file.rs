//! Oracle file: the truth of simulated athletes, as [`crate::simulate::crowd::files`] writes it.
//!
//! It is read beside the sheet of sets, athlete by athlete in the same order, so that it is never held as a whole.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Lines};
use std::iter::Peekable;
use std::path::Path;

use nextrung_domain::ability::AbilityKind;
use nextrung_domain::ids::ClientSetId;

use crate::forecaster::oracle::Truths;
use crate::simulate::noise::Noise;
use crate::simulate::standing::{Demanded, Standing};

/// Its columns.
pub const COLUMNS: &str = "athlete,client_set_id,family,world,chance,noise,mass_ratio,top,abilities";

/// Why the truth cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum OracleFileError {
    /// The file cannot be read.
    #[error("the oracle file cannot be read: {source}")]
    Unreadable {
        /// Why.
        #[from]
        source: io::Error,
    },
    /// A line is none of such a file.
    #[error("oracle file, line {line}: found {found}; expected {expected}")]
    BadLine {
        /// The line, from 1.
        line: usize,
        /// What was found.
        found: String,
        /// What was expected.
        expected: &'static str,
    },
    /// The truth of another athlete stands where this one's should.
    #[error(
        "oracle file, line {line}: found {found}; expected {athlete}, who comes next in the sheet of sets"
    )]
    OtherAthlete {
        /// The line, from 1.
        line: usize,
        /// Whose truth was found.
        found: String,
        /// Whose was wanted.
        athlete: String,
    },
}

type Numbered = std::iter::Enumerate<Lines<BufReader<File>>>;

/// The truth, athlete by athlete.
pub struct OracleFile {
    lines: Peekable<Numbered>,
}

impl OracleFile {
    /// Opens the file and checks its header.
    ///
    /// # Errors
    ///
    /// [`OracleFileError::Unreadable`] and [`OracleFileError::BadLine`].
    pub fn open(path: &Path) -> Result<Self, OracleFileError> {
        let mut lines = BufReader::new(File::open(path)?).lines().enumerate();
        let header = lines.next().map(|(_, line)| line).transpose()?.unwrap_or_default();
        if header != COLUMNS {
            return Err(OracleFileError::BadLine { line: 1, found: header, expected: COLUMNS });
        }
        Ok(Self { lines: lines.peekable() })
    }

    /// The truth of the athlete who comes next.
    ///
    /// # Errors
    ///
    /// Every [`OracleFileError`].
    pub fn next(&mut self, athlete: &str) -> Result<Truths, OracleFileError> {
        let mut truths = Truths::new();
        let is_theirs = |line: &io::Result<String>| {
            line.as_ref().map_or(true, |line| line.split(',').next().is_some_and(|name| name == athlete))
        };
        while let Some((number, line)) = self.lines.next_if(|(_, line)| is_theirs(line)) {
            let (id, standing) = read(&line?, number + 1)?;
            truths.insert(id, standing);
        }
        match self.lines.peek() {
            Some((number, Ok(line))) if truths.is_empty() => Err(OracleFileError::OtherAthlete {
                line: number + 1,
                found: line.split(',').next().unwrap_or_default().to_owned(),
                athlete: athlete.to_owned(),
            }),
            _ => Ok(truths),
        }
    }
}

fn read(line: &str, number: usize) -> Result<(ClientSetId, Standing), OracleFileError> {
    let bad = |found: &str, expected| OracleFileError::BadLine {
        line: number,
        found: format!("`{found}`"),
        expected,
    };
    let cells: Vec<&str> = line.split(',').collect();
    let [_, id, _, _, _, noise, ratio, _, abilities] = cells.as_slice() else {
        return Err(bad(line, COLUMNS));
    };
    let id = ClientSetId::new(id).map_err(|_| bad(id, "the key of a set"))?;
    let noise = Noise::from_word(noise).ok_or_else(|| bad(noise, "a kind of noise"))?;
    let ratio = ratio.parse().map_err(|_| bad(ratio, "a ratio of masses"))?;
    let mut standing = Standing::new(noise, ratio);
    for ability in abilities.split_whitespace() {
        let expected = "kind:eta:scale of an ability";
        let parts: Vec<&str> = ability.split(':').collect();
        let [kind, eta, scale] = parts.as_slice() else { return Err(bad(ability, expected)) };
        let kind = AbilityKind::ALL.into_iter().find(|known| known.word() == *kind);
        let number = |text: &str| text.parse::<f64>().map_err(|_| bad(ability, expected));
        standing.push(Demanded {
            kind: kind.ok_or_else(|| bad(ability, expected))?,
            eta: number(eta)?,
            scale: number(scale)?,
        });
    }
    Ok((id, standing))
}
