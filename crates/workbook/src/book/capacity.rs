//! Capacity: what could be done on each rung, as a table with a chart beside it.

use rust_xlsxwriter::{
    Chart, ChartErrorBars, ChartErrorBarsType, ChartFont, ChartFormat, ChartLine, ChartRange, ChartSolidFill,
    Color, Worksheet, XlsxError,
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
/// Pixels of a row, of a chart's width, and of its title, axis and margins together.
const ROW: u32 = 20;
const WIDE: u32 = 560;
const AROUND: u32 = 100;
/// The least that is drawn: a quarter of a unit.
const LEAST: f64 = 0.25;

pub(super) fn draw(
    sheet: &mut Worksheet,
    note: &str,
    blocks: &[Block],
    style: &Style,
) -> Result<(), XlsxError> {
    let mut page = Page::begin(sheet, SHEET, &WIDTHS)?;
    page.line("What could be done, fresh and without shadings", &style.title)?;
    page.paragraph((0, 13), 150, note, &style.wrapped)?;
    for block in blocks {
        page.next();
        let first = page.row;
        table(&mut page, block, style)?;
        let high = AROUND + ROW * u32::try_from(block.rungs.len()).unwrap_or(0);
        page.sheet.insert_chart_with_offset(first, CHART, &chart(block, first + 2, high), 0, 2)?;
        page.row = page.row.max(first + high.div_ceil(ROW));
    }
    let last = page.row;
    page.sheet.set_print_area(0, 0, last, CHART + 6)?;
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

/// Bars of the medians with the interval over each, rungs from the top down as in the table. The scale is logarithmic, as the
/// model counts.
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
    chart.title().set_name(&title).set_font(ChartFont::new().set_size(10));
    chart.legend().set_hidden();
    // The library calls the horizontal axis x, which has the figures here.
    chart.y_axis().set_reverse().set_label_interval(1).set_font(ChartFont::new().set_size(8));
    chart.x_axis().set_log_base(2).set_min(LEAST).set_max(most(block)).set_num_format("0.##");
    chart.set_width(WIDE).set_height(high);
    chart.set_alt_text(format!(
        "Median and 80 % range on each rung of {}; the figures stand beside it",
        block.title
    ));
    chart
}

/// The end of the scale: the first doubling over all intervals.
fn most(block: &Block) -> f64 {
    let top = block.rungs.iter().map(|one| one.high).fold(1.0, f64::max);
    std::iter::successors(Some(1.0), |end| Some(end * 2.0))
        .find(|end| *end >= top || *end >= 4096.0)
        .unwrap_or(4096.0)
}
