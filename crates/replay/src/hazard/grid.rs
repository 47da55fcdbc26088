//! Grid: pieces into which the units of a set are cut.
//!
//! Single units where most sets end, wider pieces beyond, with edges at round numbers where targets like to stand: no set gives
//! more than 40 rows. Within a piece the hazard of each unit is the same, so that the chance to last falls geometrically. A set
//! that ended without failing inside a piece says nothing about that piece: what it passed of it is let go.

use nextrung_domain::measure::Unit;

/// Most pieces of any unit.
pub const MOST_PIECES: usize = 40;

const REPS: [u16; 37] = [
    1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 26, 28, 30, 35,
    40, 45, 50, 60, 75, 100, 150, 200, 300,
];
const LOWERING: [u16; 34] = [
    1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30, 35, 40, 45, 50, 55, 60, 75, 90,
    105, 120, 150, 180, 240, 300,
];
const HOLD: [u16; 39] = [
    1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30, 35, 40, 45, 50, 55, 60, 75, 90,
    105, 120, 150, 180, 240, 300, 420, 600, 900, 1200, 1800,
];

/// Units in a row that share one hazard: those after `from` up to and with `to`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Piece {
    /// Units done before it.
    pub from: u16,
    /// Units done after it.
    pub to: u16,
}

impl Piece {
    /// Units in it, at least 1.
    pub fn width(self) -> u16 {
        self.to - self.from
    }
}

/// The pieces of a unit from the first unit on; the last ends at [`Unit::most`].
pub fn pieces(unit: Unit) -> impl Iterator<Item = Piece> {
    let edges: &[u16] = match unit {
        Unit::Reps => &REPS,
        Unit::HoldSeconds => &HOLD,
        Unit::LoweringSeconds => &LOWERING,
    };
    edges.iter().scan(0, |from, &to| Some(Piece { from: std::mem::replace(from, to), to }))
}

/// The rows of a set: each piece passed, and the piece in which it failed if it did; true for the latter. A failure past the
/// last piece is none that the model knows of.
pub fn rows(unit: Unit, done: u16, failed: bool) -> impl Iterator<Item = (Piece, bool)> {
    pieces(unit)
        .take_while(move |piece| piece.to <= done || (failed && piece.from <= done))
        .map(move |piece| (piece, piece.to > done))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_cover_every_unit_once() {
        for unit in Unit::ALL {
            let all: Vec<Piece> = pieces(unit).collect();
            assert!(all.len() <= MOST_PIECES, "{unit:?}");
            assert_eq!((all[0].from, all[all.len() - 1].to), (0, unit.most()));
            assert!(all.windows(2).all(|two| two[0].to == two[1].from && two[1].width() >= two[0].width()));
        }
    }

    fn ends(unit: Unit, done: u16, failed: bool) -> Vec<(u16, bool)> {
        rows(unit, done, failed).map(|(piece, failed)| (piece.to, failed)).collect()
    }

    #[test]
    fn rows_are_what_was_passed_and_what_failed() {
        assert_eq!(ends(Unit::Reps, 2, true), [(1, false), (2, false), (3, true)]);
        assert_eq!(ends(Unit::Reps, 2, false), [(1, false), (2, false)]);
        assert_eq!(ends(Unit::Reps, 0, true), [(1, true)]);
        assert_eq!(ends(Unit::Reps, 0, false), []);
    }

    #[test]
    fn a_piece_counts_when_failed_in_or_passed_whole() {
        assert_eq!(ends(Unit::HoldSeconds, 11, true).last(), Some(&(12, true)));
        assert_eq!(ends(Unit::HoldSeconds, 11, false).last(), Some(&(10, false)));
        assert_eq!(ends(Unit::HoldSeconds, 12, true).last(), Some(&(14, true)));
        assert!(ends(Unit::HoldSeconds, 1800, true).iter().all(|(_, failed)| !failed));
    }
}
