//! Inks: the greys of all pictures. There is no other colour, so a print in grey loses nothing.

use plotters::style::RGBColor;

/// A grey, 0 black to 255 white.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Ink(u8);

impl Ink {
    /// Words and lines that carry the message.
    pub(crate) const BLACK: Self = Self(0x14);
    /// Words of less weight; contrast 7.5 to 1 on white.
    pub(crate) const SOFT: Self = Self(0x54);
    /// What stands out among bars.
    pub(crate) const DARK: Self = Self(0x70);
    /// The inner band, and bars.
    pub(crate) const MIDDLE: Self = Self(0x9c);
    /// The middle band.
    pub(crate) const LIGHT: Self = Self(0xc6);
    /// The outer band and grid lines.
    pub(crate) const PALE: Self = Self(0xe4);
    /// Paper.
    pub(crate) const WHITE: Self = Self(0xff);

    /// As SVG writes it.
    pub(crate) fn css(self) -> String {
        format!("#{0:02x}{0:02x}{0:02x}", self.0)
    }

    /// As plotters takes it.
    pub(crate) fn color(self) -> RGBColor {
        RGBColor(self.0, self.0, self.0)
    }
}
