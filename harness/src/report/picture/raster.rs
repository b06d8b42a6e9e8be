//! SVG to PNG with the shipped font only, so that the picture is the same on every machine.

use std::sync::{Arc, LazyLock};

use resvg::tiny_skia::{Color, Pixmap, Transform};
use resvg::usvg::{self, fontdb};

use super::text::{REGULAR, SEMI_BOLD};

/// Most picture elements a PNG may have: enough for A2 at 300 dots an inch.
const MAX_PIXELS: f64 = 40.0e6;

/// Why no PNG could be made.
#[derive(Debug, thiserror::Error)]
pub enum PictureError {
    /// The scale is not a positive number.
    #[error("a picture's scale must be a positive number, not {0}")]
    Scale(f32),
    /// The text is not an SVG.
    #[error("the picture is not a well-formed SVG: {0}")]
    Svg(#[from] usvg::Error),
    /// The PNG would be too large.
    #[error(
        "the picture would be {width:.0} × {height:.0} px; the most is {MAX_PIXELS:.0} px in all"
    )]
    TooLarge {
        /// Width asked for, px.
        width: f64,
        /// Height asked for, px.
        height: f64,
    },
    /// The PNG encoder failed.
    #[error("the picture could not be encoded as PNG: {0}")]
    Encode(#[from] png::EncodingError),
}

static FONTS: LazyLock<Arc<fontdb::Database>> = LazyLock::new(|| {
    let mut fonts = fontdb::Database::new();
    fonts.load_font_data(REGULAR.to_vec());
    fonts.load_font_data(SEMI_BOLD.to_vec());
    fonts.set_sans_serif_family("Inter");
    fonts.set_serif_family("Inter");
    fonts.set_monospace_family("Inter");
    Arc::new(fonts)
});

/// The parser options of every picture: the shipped fonts, and no file is ever opened.
pub(crate) fn options() -> usvg::Options<'static> {
    usvg::Options {
        font_family: "Inter".to_owned(),
        fontdb: FONTS.clone(),
        image_href_resolver: usvg::ImageHrefResolver {
            resolve_data: usvg::ImageHrefResolver::default_data_resolver(),
            resolve_string: Box::new(|_, _| None),
        },
        ..usvg::Options::default()
    }
}

/// Draws an SVG as PNG, `scale` image px to an SVG px (1 for a screen, 2 to 3 for print).
///
/// Only the shipped font is used and nothing outside `svg` is read.
///
/// # Errors
/// A scale that is not positive, text that is not an SVG, a picture that is too large, a failed encoder.
pub fn to_png(svg: &str, scale: f32) -> Result<Vec<u8>, PictureError> {
    if !(scale.is_finite() && scale > 0.0) {
        return Err(PictureError::Scale(scale));
    }
    let tree = usvg::Tree::from_str(svg, &options())?;
    let width = (f64::from(tree.size().width()) * f64::from(scale)).ceil();
    let height = (f64::from(tree.size().height()) * f64::from(scale)).ceil();
    let too_large = PictureError::TooLarge { width, height };
    if width * height > MAX_PIXELS {
        return Err(too_large);
    }
    // The bound above keeps both within u32.
    let Some(mut pixmap) = Pixmap::new(width as u32, height as u32) else {
        return Err(too_large);
    };
    pixmap.fill(Color::WHITE);
    resvg::render(
        &tree,
        Transform::from_scale(scale, scale),
        &mut pixmap.as_mut(),
    );
    encode(&pixmap, scale)
}

/// The pixmap, opaque because its ground is white, as an RGB PNG with its print size.
fn encode(pixmap: &Pixmap, scale: f32) -> Result<Vec<u8>, PictureError> {
    let rgb: Vec<u8> = pixmap
        .data()
        .chunks_exact(4)
        .flat_map(|rgba| [rgba[0], rgba[1], rgba[2]])
        .collect();
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, pixmap.width(), pixmap.height());
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::High);
    // A CSS px is 1/96 inch; an inch is 0.0254 m.
    let per_metre = (96.0 * f64::from(scale) / 0.0254).round() as u32;
    encoder.set_pixel_dims(Some(png::PixelDimensions {
        xppu: per_metre,
        yppu: per_metre,
        unit: png::Unit::Meter,
    }));
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&rgb)?;
    writer.finish()?;
    Ok(bytes)
}
