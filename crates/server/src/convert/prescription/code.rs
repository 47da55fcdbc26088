//! Reason codes to their numbers.

use nextrung_api::v1;
use nextrung_prescribe::reason::ReasonCode;

/// A reason's code.
pub(super) fn of_code(code: ReasonCode) -> v1::ReasonCode {
    match code {
        ReasonCode::BestInWorkingBand => v1::ReasonCode::BestInWorkingBand,
        ReasonCode::BestInAttemptBand => v1::ReasonCode::BestInAttemptBand,
        ReasonCode::KeptWithinMargin => v1::ReasonCode::KeptWithinMargin,
        ReasonCode::TieToEasier => v1::ReasonCode::TieToEasier,
        ReasonCode::ShadedBetweenRungs => v1::ReasonCode::ShadedBetweenRungs,
        ReasonCode::LoadChosen => v1::ReasonCode::LoadChosen,
        ReasonCode::MoveUp => v1::ReasonCode::MoveUp,
        ReasonCode::Hold => v1::ReasonCode::Hold,
        ReasonCode::StepBack => v1::ReasonCode::StepBack,
        ReasonCode::FirstTime => v1::ReasonCode::FirstTime,
        ReasonCode::ReturnAfterTimeOff => v1::ReasonCode::ReturnAfterTimeOff,
        ReasonCode::RunOfMisses => v1::ReasonCode::RunOfMisses,
        ReasonCode::NothingKnown => v1::ReasonCode::NothingKnown,
        ReasonCode::DoubtTooWide => v1::ReasonCode::DoubtTooWide,
        ReasonCode::PainAtOrOverLimit => v1::ReasonCode::PainAtOrOverLimit,
        ReasonCode::GateUnmet => v1::ReasonCode::GateUnmet,
        ReasonCode::ClearanceUnconfirmed => v1::ReasonCode::ClearanceUnconfirmed,
        ReasonCode::EquipmentMissing => v1::ReasonCode::EquipmentMissing,
        ReasonCode::BannedByCoach => v1::ReasonCode::BannedByCoach,
        ReasonCode::PlainEnough => v1::ReasonCode::PlainEnough,
        ReasonCode::PinnedByCoach => v1::ReasonCode::PinnedByCoach,
        ReasonCode::CappedByCoach => v1::ReasonCode::CappedByCoach,
        ReasonCode::BalancePracticeFirst => v1::ReasonCode::BalancePracticeFirst,
        ReasonCode::SideAlternation => v1::ReasonCode::SideAlternation,
        ReasonCode::RestAfterRecentWork => v1::ReasonCode::RestAfterRecentWork,
        ReasonCode::WeekdayNotAvailable => v1::ReasonCode::WeekdayNotAvailable,
        ReasonCode::LeadsToGoal => v1::ReasonCode::LeadsToGoal,
        ReasonCode::GoalReached => v1::ReasonCode::GoalReached,
        ReasonCode::SetsChosen => v1::ReasonCode::SetsChosen,
        ReasonCode::CutToLimits => v1::ReasonCode::CutToLimits,
        ReasonCode::TargetClipped => v1::ReasonCode::TargetClipped,
        ReasonCode::NoAttemptInReach => v1::ReasonCode::NoAttemptInReach,
        ReasonCode::NothingInBand => v1::ReasonCode::NothingInBand,
        ReasonCode::MinorSupervision => v1::ReasonCode::MinorSupervision,
    }
}
