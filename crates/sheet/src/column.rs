//! Columns of a sheet of sets, named as the fields of the contract.

use nextrung_domain::measure::Unit;

/// A column of a sheet of sets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Column {
    /// The athlete.
    Athlete,
    /// The day of training.
    TrainingDate,
    /// Session of the day.
    Session,
    /// Set of the session.
    SetNumber,
    /// `ladder/rung`.
    Rung,
    /// What the set was for.
    Purpose,
    /// Ids of shadings.
    Shadings,
    /// Clean repetitions done.
    Reps,
    /// Seconds held.
    HoldSeconds,
    /// Seconds of one slow lowering.
    LoweringSeconds,
    /// Planned target.
    PlannedTarget,
    /// How the set ended.
    Stop,
    /// Reps in reserve.
    RepsInReserve,
    /// Rest before the set.
    RestSeconds,
    /// Kilograms added or removed.
    LoadKg,
    /// Body mass on the day.
    BodyMassKg,
    /// Tempo.
    Tempo,
    /// Pain.
    Pain,
    /// The set's own key.
    ClientSetId,
    /// Free text.
    Note,
}

impl Column {
    /// How many columns there are.
    pub const COUNT: usize = 20;

    /// Every column, in the order in which they are written.
    pub const ALL: [Self; Self::COUNT] = [
        Self::Athlete,
        Self::TrainingDate,
        Self::Session,
        Self::SetNumber,
        Self::Rung,
        Self::Purpose,
        Self::Shadings,
        Self::Reps,
        Self::HoldSeconds,
        Self::LoweringSeconds,
        Self::PlannedTarget,
        Self::Stop,
        Self::RepsInReserve,
        Self::RestSeconds,
        Self::LoadKg,
        Self::BodyMassKg,
        Self::Tempo,
        Self::Pain,
        Self::ClientSetId,
        Self::Note,
    ];

    /// Its name in the header.
    pub fn name(self) -> &'static str {
        match self {
            Self::Athlete => "athlete",
            Self::TrainingDate => "training_date",
            Self::Session => "session",
            Self::SetNumber => "set_number",
            Self::Rung => "rung",
            Self::Purpose => "purpose",
            Self::Shadings => "shadings",
            Self::Reps => Unit::Reps.field(),
            Self::HoldSeconds => Unit::HoldSeconds.field(),
            Self::LoweringSeconds => Unit::LoweringSeconds.field(),
            Self::PlannedTarget => "planned_target",
            Self::Stop => "stop",
            Self::RepsInReserve => "reps_in_reserve",
            Self::RestSeconds => "rest_seconds",
            Self::LoadKg => "load_kg",
            Self::BodyMassKg => "body_mass_kg",
            Self::Tempo => "tempo",
            Self::Pain => "pain",
            Self::ClientSetId => "client_set_id",
            Self::Note => "note",
        }
    }

    /// Reads a [`name`](Self::name).
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|c| c.name() == name)
    }

    /// The column that holds the units done in `unit`.
    pub fn of_unit(unit: Unit) -> Self {
        match unit {
            Unit::Reps => Self::Reps,
            Unit::HoldSeconds => Self::HoldSeconds,
            Unit::LoweringSeconds => Self::LoweringSeconds,
        }
    }

    /// Its place in [`ALL`](Self::ALL).
    pub(crate) fn index(self) -> usize {
        self as usize
    }

    /// True when it holds words, which may begin like a formula; the others hold figures and words of closed lists.
    pub(crate) fn is_text(self) -> bool {
        matches!(
            self,
            Self::Athlete | Self::Rung | Self::Shadings | Self::Tempo | Self::ClientSetId | Self::Note
        )
    }

    /// True when every sheet must have the column and every row fill it.
    pub fn is_needed(self) -> bool {
        matches!(
            self,
            Self::Athlete | Self::TrainingDate | Self::SetNumber | Self::Rung | Self::Purpose | Self::Stop
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_known_by_name_and_by_place() {
        for (n, column) in Column::ALL.into_iter().enumerate() {
            assert_eq!(Column::from_name(column.name()), Some(column));
            assert_eq!(column.index(), n);
        }
        for unit in Unit::ALL {
            assert_eq!(Column::of_unit(unit).name(), unit.field());
        }
        assert_eq!(Column::from_name("Reps"), None);
    }
}
