//! Trends.

use crate::sample;

#[test]
fn draft() {
    let t = sample::trend(
        12,
        vec![
            sample::rung("Pull-up", "reps", 12, 3.0),
            sample::rung("One-leg squat standing on a box, free leg hanging", "s", 12, 6.0),
        ],
    );
    std::fs::create_dir_all("/tmp/pictures").unwrap();
    std::fs::write("/tmp/pictures/trend.svg", t.draw().unwrap()).unwrap();
}
