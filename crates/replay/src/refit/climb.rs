//! Climb: the top of a smooth function along one line, by parabolas; never below where it began.

/// Searches before it gives up following a slope.
const MOST: u32 = 5;
/// A vertex further out than this many widths is not believed: the search is begun again there.
const FURTHEST: f64 = 2.0;

/// Where a climb ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Top {
    /// How far from the beginning.
    pub at: f64,
    /// The value there.
    pub value: f64,
    /// Minus the second derivative near there; not above 0 when the function is not concave.
    pub bend: f64,
}

/// From 0, where the function is `start`, to its top. Three values a search: one to either side at `width`, and one at the
/// vertex of the parabola through all three; the best of them all is kept.
pub fn climb(start: f64, width: f64, mut value: impl FnMut(f64) -> f64) -> Top {
    let mut top = Top { at: 0.0, value: start, bend: 0.0 };
    for _ in 0..MOST {
        let centre = top;
        let [up, down] = [width, -width].map(|by| value(centre.at + by));
        let (slope, bend) = (0.5 * (up - down), centre.value + centre.value - up - down);
        let vertex = if bend > 0.0 { slope / bend } else { FURTHEST.copysign(slope) };
        let is_far = vertex.abs() >= FURTHEST;
        let vertex = vertex.clamp(-FURTHEST, FURTHEST);
        let found = [(1.0, up), (-1.0, down), (vertex, value(centre.at + vertex * width))];
        for (widths, value) in found {
            if value > top.value {
                top = Top { at: centre.at + widths * width, value, bend: 0.0 };
            }
        }
        top.bend = bend / (width * width);
        if !is_far || top.at == centre.at {
            break;
        }
    }
    top
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_is_climbed_in_three_looks() {
        let mut looks = 0;
        let top = climb(-0.09, 0.25, |x| {
            looks += 1;
            -(x - 0.3) * (x - 0.3)
        });
        assert!((top.at - 0.3).abs() < 1e-12 && top.value.abs() < 1e-12, "{top:?}");
        assert!((top.bend - 2.0).abs() < 1e-9, "{top:?}");
        assert_eq!(looks, 3);
    }

    #[test]
    fn a_far_top_is_walked_to() {
        let value = |x: f64| -libm::cosh(x - 1.1);
        let top = climb(value(0.0), 0.2, value);
        assert!((top.at - 1.1).abs() < 0.01, "{top:?}");
    }

    #[test]
    fn it_never_ends_below_where_it_began() {
        let value = |x: f64| if x == 0.0 { 1.0 } else { -x.abs() };
        assert_eq!(climb(1.0, 0.1, value).at, 0.0);
        let flat = climb(3.0, 0.1, |_| 3.0);
        assert_eq!((flat.at, flat.value), (0.0, 3.0));
    }
}
