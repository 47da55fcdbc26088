//! Trends.

use crate::sample;

#[test]
fn draft() {
    let t = sample::trend(
        12,
        vec![
            sample::rung("Pull-up", "reps", 12, 3.0),
            sample::rung("One-leg squat standing on a box, free leg hanging", "seconds", 12, 6.0),
        ],
    );
    std::fs::create_dir_all("/tmp/pictures").unwrap();
    let put = |name: &str, svg: String| std::fs::write(format!("/tmp/pictures/{name}.svg"), svg).unwrap();
    put("trend", t.draw().unwrap());
    put("forecast", sample::forecast(12).draw().unwrap());
    put("limiters", sample::limiters().draw().unwrap());
    put("week", sample::week().draw().unwrap());
    put("candidates", sample::candidates(18).draw().unwrap());
    put("candidates40", sample::candidates(40).draw().unwrap());
}
