//! Figures of a replay, tested where the roster of the end-to-end tests has no value of its own.

use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::LadderId;

use super::*;

#[test]
fn selections_are_told_with_full_names() {
    let day = |day| CivilDate::from_parts(2026, 3, day).unwrap();
    let selection = Selection {
        from: Some(day(2)),
        to: Some(day(4)),
        ladders: ["pull", "row"].map(|id| LadderId::new(id).unwrap()).into(),
        athletes: ["lark", "wren"].map(str::to_owned).into(),
        warm_up_days: 28,
    };
    let told = of_selection(&RosterId::new("hall").unwrap(), &selection);
    let date = |day| Some(v1::Date { year: 2026, month: 3, day });
    let wanted = v1::ReplaySelection {
        start_date: date(2),
        end_date: date(4),
        ladders: vec!["ladders/pull".to_owned(), "ladders/row".to_owned()],
        athletes: ["lark", "wren"].map(|id| format!("rosters/hall/athletes/{id}")).to_vec(),
        warm_up_days: 28,
    };
    assert_eq!(told, wanted);
}

#[test]
fn an_edge_of_no_known_name_is_told_as_none() {
    let edge = |name: &str| {
        let figures = EdgeFigures {
            edge: name.to_owned(),
            events: u64::MAX,
            brier: 0.1,
            miscalibration: 0.2,
            discrimination: 0.3,
            uncertainty: 0.4,
            steps: vec![CalibrationStep { from: 0.1, to: 0.2, came: 0.3, sets: 4 }],
        };
        of_edge(&figures)
    };
    let edges = ["low", "high", "middle"].map(|name| edge(name).edge());
    assert_eq!(edges, [v1::BandEdge::Low, v1::BandEdge::High, v1::BandEdge::Unspecified]);
    let told = edge("low");
    let parts = [told.brier, told.miscalibration, told.discrimination, told.uncertainty];
    assert_eq!((parts, told.events), ([0.1, 0.2, 0.3, 0.4], i64::MAX));
    assert_eq!(told.steps, [v1::CalibrationStep { from: 0.1, to: 0.2, came: 0.3, sets: 4 }]);
}
