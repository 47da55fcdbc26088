//! Capacity: what could be done on each rung, as a table with a chart beside it.

use rust_xlsxwriter::{
    Chart, ChartErrorBars, ChartErrorBarsType, ChartFont, ChartFormat, ChartLayout, ChartLine, ChartRange,
    ChartSolidFill, Color, Worksheet, XlsxError,
};

use super::page::{Page, Style};
use crate::text::held;

/// Rungs of one ladder that are counted in the same unit; two units never share an axis.
#[derive(Debug, Clone)]
pub struct Block {
    /// The ladder.
    pub title: String,
    /// What is counted: `Reps`, `Seconds of holding`.
    pub unit: &'static str,
    /// The rungs, from easy to hard.
    pub rungs: Vec<Capacity>,
}

/// What could be done on one rung.
#[derive(Debug, Clone)]
pub struct Capacity {
    /// The rung.
    pub rung: String,
    /// Half of such days would show more.
    pub median: f64,
    /// The central interval of level 0.8.
    pub low: f64,
    /// See [`low`](Self::low).
    pub high: f64,
    /// The working band: `3-5`.
    pub band: String,
    /// Its upper end.
    pub band_high: f64,
    /// The chance of the band or more, 0 to 1.
    pub reached: f64,
}

const SHEET: &str = "Capacity";
/// The last two columns hold what the chart draws as the interval: its ends counted from the median.
const WIDTHS: [f64; 17] =
    [40.0, 9.0, 9.0, 9.0, 9.0, 10.0, 3.0, 11.0, 11.0, 11.0, 11.0, 11.0, 11.0, 11.0, 3.0, 9.0, 9.0];
/// The column where charts begin.
const CHART: u16 = 7;
/// Columns of the ends of the interval, counted from the median.
const ENDS: (u16, u16) = (15, 16);
/// Pixels of a row, of a bar with its gap, of a chart's width, and of what stands over and under the bars.
const ROW: u32 = 20;
const BAR: u32 = 24;
const WIDE: u32 = 560;
const OVER: u32 = 58;
const UNDER: u32 = 14;
/// The shares of a chart's width that are left for the labels, and that the bars take.
const LABELS: f64 = 0.38;
const BARS: f64 = 0.57;
/// Rows that a page holds with its columns on it, in the font that makes them largest.
const PAGE: u32 = 40;
/// How often the highest working band fits on the scale: further up lies what nobody trains for.
const BANDS: f64 = 3.0;
/// Parts of the scale, and what each may stand for.
const PARTS: f64 = 5.0;
const STEPS: [f64; 18] =
    [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0];

pub(super) fn draw(
    sheet: &mut Worksheet,
    note: &str,
    blocks: &[Block],
    style: &Style,
) -> Result<(), XlsxError> {
    let mut page = Page::begin(sheet, SHEET, &WIDTHS)?;
    page.title("What could be done, fresh and without shadings", style)?;
    page.paragraph((0, 13), note, style)?;
    let (mut top, mut breaks) = (0, Vec::new());
    for block in blocks {
        page.next();
        let (first, begin) = (page.row, page.height());
        let bars = u32::try_from(block.rungs.len()).unwrap_or(0);
        let high = OVER + BAR * bars + UNDER;
        let rows = high.div_ceil(ROW).max(bars + 2);
        // A chart that does not fit under the others goes to the next page whole.
        if begin + rows > top + PAGE && top != begin {
            breaks.push(first);
            top = begin;
        }
        table(&mut page, block, style)?;
        page.sheet.insert_chart_with_offset(first, CHART, &chart(block, first + 2, high), 0, 2)?;
        page.row = page.row.max(first + rows);
    }
    let last = page.row;
    page.sheet.set_page_breaks(&breaks)?.set_print_area(0, 0, last, CHART + 6)?;
    Ok(())
}

fn table(page: &mut Page<'_>, block: &Block, style: &Style) -> Result<(), XlsxError> {
    page.line(&format!("{}: {}", block.title, block.unit.to_lowercase()), &style.strong)?;
    for (column, head) in [(ENDS.0, "to low"), (ENDS.1, "to high")] {
        page.put(column, head, &style.faint)?;
    }
    page.heads(&["rung", ">median", ">low", ">high", ">band", ">reached"], style)?;
    for one in &block.rungs {
        page.put(0, &one.rung, &style.text)?;
        for (column, figure) in [(1, one.median), (2, one.low), (3, one.high)] {
            page.number(column, figure, &style.figure)?;
        }
        page.put(4, &one.band, &style.right)?;
        page.number(5, one.reached, &style.percent)?;
        page.number(ENDS.0, (one.median - one.low).max(0.0), &style.figure)?;
        page.number(ENDS.1, (one.high - one.median).max(0.0), &style.figure)?;
        page.next();
    }
    Ok(())
}

/// Bars of the medians with the interval over each, rungs from the top down as in the table. The scale ends where nobody trains,
/// and what lies beyond goes to its end: on a logarithmic one, which the model counts by, programs name steps of ten alone.
fn chart(block: &Block, first: u32, high: u32) -> Chart {
    let last = first + u32::try_from(block.rungs.len()).unwrap_or(1).saturating_sub(1);
    let range = |column: u16| ChartRange::new_from_range(SHEET, first, column, last, column);
    let mut interval = ChartErrorBars::new();
    interval
        .set_type(ChartErrorBarsType::Custom(range(ENDS.1), range(ENDS.0)))
        .set_format(ChartFormat::new().set_line(ChartLine::new().set_width(1.25).set_color(Color::Black)));
    let mut chart = Chart::new_bar();
    chart
        .add_series()
        .set_name("median, with the 80 % range")
        .set_categories(&range(0))
        .set_values(&range(1))
        .set_gap(60)
        .set_format(
            ChartFormat::new().set_solid_fill(ChartSolidFill::new().set_color(Color::RGB(0xA6_A6_A6))),
        )
        .set_x_error_bars(&interval);
    let title = format!("{} on {}: median and 80 % range", block.unit, held(&block.title));
    chart.title().set_name(&title).set_font(ChartFont::new().set_size(9));
    chart.legend().set_hidden();
    // The library calls the horizontal axis x, which has the figures here.
    chart.y_axis().set_reverse().set_font(ChartFont::new().set_size(8));
    let step = step(block);
    chart.x_axis().set_min(0.0).set_max(PARTS * step).set_major_unit(step).set_num_format("0");
    // Left to themselves, programs leave out labels that they think too many or too long.
    let share = |pixels: u32| f64::from(pixels) / f64::from(high);
    let place = ChartLayout::new().set_offset(LABELS, share(OVER));
    chart.plot_area().set_layout(&place.set_dimensions(BARS, 1.0 - share(OVER + UNDER)));
    chart.set_width(WIDE).set_height(high);
    chart.set_alt_text(format!(
        "Median and 80 % range on each rung of {}; the figures stand beside it",
        block.title
    ));
    chart
}

/// A part of the scale: whole units, so that the highest interval fits on it, or three times the highest working band.
fn step(block: &Block) -> f64 {
    let most = |of: fn(&Capacity) -> f64| block.rungs.iter().map(of).fold(0.0, f64::max);
    let end = most(|one| one.high).min(BANDS * most(|one| one.band_high));
    STEPS.into_iter().find(|step| PARTS * step >= end).unwrap_or(100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scale_ends_behind_what_is_trained() {
        let rung = |high: f64, band_high: f64| Capacity {
            rung: String::new(),
            median: high / 2.0,
            low: 0.0,
            high,
            band: String::new(),
            band_high,
            reached: 0.5,
        };
        let block = |rungs: Vec<Capacity>| Block { title: String::new(), unit: "Reps", rungs };
        let end = |rungs: Vec<Capacity>| PARTS * step(&block(rungs));
        assert!(end(vec![rung(101.8, 5.0), rung(2.7, 5.0)]).total_cmp(&15.0).is_eq(), "three bands of 5");
        assert!(end(vec![rung(325.0, 45.0)]).total_cmp(&150.0).is_eq());
        assert!(end(vec![rung(2.7, 5.0)]).total_cmp(&5.0).is_eq(), "all of it fits");
        assert!(end(Vec::new()).total_cmp(&5.0).is_eq());
    }
}
