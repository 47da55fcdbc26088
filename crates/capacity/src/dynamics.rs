//! How an ability moves between days (F-03).
//!
//! A local linear trend whose slope dies away, in continuous time: `d level = slope dt + dW_L`,
//! `d slope = -slope/tau dt + dW_V`. The transition over any gap is exact, so one gap of seven days is the same as one of
//! three followed by one of four. Derivation: linear stochastic differential equation with constant coefficients
//! (Sarkka and Solin 2019, section 6.2, from memory); checked against matrix exponentials in `tests/kernel_properties.rs`.

/// Parameters of the damped local linear trend.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    /// Time constant of the slope, days, positive; infinity gives the undamped (integrated random walk) trend.
    pub slope_days: f64,
    /// Level noise, ln units squared per day.
    pub level_noise: f64,
    /// Slope noise, (ln units per day) squared per day.
    pub slope_noise: f64,
}

/// What a gap does to (level, slope): `level += gain * slope`, `slope *= decay`, plus independent noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transition {
    /// Days of slope that reach the level.
    pub gain: f64,
    /// Share of the slope left.
    pub decay: f64,
    /// Noise covariance: level variance, covariance, slope variance.
    pub noise: [f64; 3],
}

impl Trend {
    /// The transition over a gap of `days >= 0`. Exact; stable for `days / slope_days` from 0 to infinity.
    #[must_use]
    pub fn transition(&self, days: f64) -> Transition {
        let ratio = days / self.slope_days;
        let once = mean_decay(ratio);
        let gain = days * once;
        let from_slope = self.slope_noise * days;
        Transition {
            gain,
            decay: libm::exp(-ratio),
            noise: [
                self.level_noise * days + from_slope * days * days * mean_square_gain(ratio),
                0.5 * from_slope * days * once * once,
                from_slope * mean_decay(2.0 * ratio),
            ],
        }
    }
}

impl Trend {
    /// The transition over a gap of `days >= 0` without work, past the grace: the slope dies away as ever and no longer reaches
    /// the level. What training had been building is not built further by time off.
    #[must_use]
    pub fn standstill(&self, days: f64) -> Transition {
        let Transition { decay, noise: [.., slope], .. } = self.transition(days);
        Transition { gain: 0.0, decay, noise: [self.level_noise * days, 0.0, slope] }
    }
}

impl Transition {
    /// This transition and then another as one.
    #[must_use]
    pub fn then(&self, next: &Self) -> Self {
        let (_, noise) = next.apply([0.0; 2], self.noise);
        let (mean, _) = next.apply([self.gain, self.decay], [0.0; 3]);
        Self { gain: mean[0], decay: mean[1], noise }
    }

    /// Moves the mean and covariance (level variance, covariance, slope variance) of one (level, slope) across the gap.
    #[must_use]
    pub fn apply(&self, mean: [f64; 2], covariance: [f64; 3]) -> ([f64; 2], [f64; 3]) {
        let [ll, lv, vv] = covariance;
        let crossed = lv + self.gain * vv;
        (
            [mean[0] + self.gain * mean[1], self.decay * mean[1]],
            [
                ll + self.gain * (lv + crossed) + self.noise[0],
                self.decay * crossed + self.noise[1],
                self.decay * self.decay * vv + self.noise[2],
            ],
        )
    }
}

/// `(1 - exp(-x)) / x`: the mean of `exp(-t)` over `0..x`.
fn mean_decay(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { -libm::expm1(-x) / x }
}

/// Under this ratio the closed form would cancel, and the series of 22 terms has converged to the last bit.
const SERIES_LIMIT: f64 = 1.0;
const SERIES: [f64; 22] = square_gain_series();

/// Coefficients of `mean_square_gain`, highest power first: `(-1)^n (2 - 2^(n-1)) / n!` for n = 24 down to 3.
const fn square_gain_series() -> [f64; 22] {
    let mut series = [0.0; 22];
    let mut n = 3.0;
    let mut power = 4.0;
    let mut signed_factorial = -6.0;
    let mut slot = series.len();
    while slot > 0 {
        slot -= 1;
        series[slot] = (2.0 - power) / signed_factorial;
        n += 1.0;
        power *= 2.0;
        signed_factorial *= -n;
    }
    series
}

/// `(x - 2 (1 - exp(-x)) + (1 - exp(-2x)) / 2) / x^3`, which is 1/3 at zero.
fn mean_square_gain(x: f64) -> f64 {
    if x < SERIES_LIMIT {
        return SERIES.iter().fold(0.0, |sum, c| sum * x + c);
    }
    (x + 2.0 * libm::expm1(-x) - 0.5 * libm::expm1(-2.0 * x)) / (x * x * x)
}

/// What time off does once it passes a grace period: a slow loss and growing doubt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Idleness {
    /// Days without work on the ability that cost nothing.
    pub grace_days: f64,
    /// Loss of level on the first day beyond the grace, ln units.
    pub loss: f64,
    /// Time constant with which further days cost less, days, positive: in all no more than `loss * loss_days` is lost.
    pub loss_days: f64,
    /// Extra variance of level per day beyond the grace, ln units squared.
    pub doubt: f64,
}

impl Idleness {
    /// The default grace, days: up to about two weeks no demonstrable loss (Bosquet et al. 2013).
    pub const GRACE_DAYS: f64 = 14.0;

    /// Days of a gap that still lie within the grace, when it starts `idle_days` after the last work.
    #[must_use]
    pub fn within_grace(&self, idle_days: f64, days: f64) -> f64 {
        (self.grace_days - idle_days).clamp(0.0, days)
    }

    /// Change of the level and extra variance over a gap of `days` that starts `idle_days` after the last work.
    ///
    /// Additive: two gaps in a row give the sum of what the whole gap gives.
    #[must_use]
    pub fn over(&self, idle_days: f64, days: f64) -> (f64, f64) {
        let past_grace = |idle: f64| (idle - self.grace_days).max(0.0);
        let (before, after) = (past_grace(idle_days), past_grace(idle_days + days));
        let fading = libm::exp(-before / self.loss_days) * libm::expm1((before - after) / self.loss_days);
        (self.loss * self.loss_days * fading, self.doubt * (after - before))
    }
}

/// Extra level noise of the first weeks on an ability, dying away with exposure: a wider start, not a steeper slope.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Familiarisation {
    /// Extra level noise on the first day, ln units squared per day.
    pub noise: f64,
    /// Time constant, days, positive.
    pub days: f64,
}

impl Familiarisation {
    /// Extra variance of level over a gap of `days` that starts `since_first` days after the first exposure.
    ///
    /// The integral of `noise * exp(-t / self.days)` over the gap, so gaps add up.
    #[must_use]
    pub fn over(&self, since_first: f64, days: f64) -> f64 {
        -self.noise * self.days * libm::exp(-since_first / self.days) * libm::expm1(-days / self.days)
    }
}
