//! Pictures as the pages of a PDF: the same shapes, texts as outlines, so that no font need be embedded.

use super::raster::{options, PictureError};
use pdf_writer::types::{LineCapStyle, LineJoinStyle};
use pdf_writer::{Content, Finish as _, Pdf, Rect, Ref, TextStr};
use resvg::tiny_skia::{Path, PathSegment, Point, Transform};
use resvg::usvg::{self, Group, LineJoin, Node, Paint};

/// PDF points a px: 72 and 96 to the inch.
const POINTS_PER_PX: f32 = 0.75;

/// Makes a PDF of one page for each SVG. Fills and strokes are kept; embedded images are not.
///
/// # Errors
/// A text that is no SVG.
pub fn to_pdf(svgs: &[String], title: &str) -> Result<Vec<u8>, PictureError> {
    let mut pdf = Pdf::new();
    let (catalog, pages, info) = (Ref::new(1), Ref::new(2), Ref::new(3));
    let id = |n: usize| Ref::new(i32::try_from(n).unwrap_or(i32::MAX));
    let page_ids: Vec<Ref> = (0..svgs.len()).map(|k| id(4 + 2 * k)).collect();
    pdf.catalog(catalog).pages(pages);
    pdf.document_info(info).title(TextStr(title));
    let count = i32::try_from(svgs.len()).unwrap_or(i32::MAX);
    pdf.pages(pages).kids(page_ids.iter().copied()).count(count);
    for (k, svg) in svgs.iter().enumerate() {
        let tree = usvg::Tree::from_str(svg, &options())?;
        let (width, height) = (tree.size().width(), tree.size().height());
        let mut content = Content::new();
        // PDF counts upwards from the lower left corner.
        content.transform([
            POINTS_PER_PX,
            0.0,
            0.0,
            -POINTS_PER_PX,
            0.0,
            height * POINTS_PER_PX,
        ]);
        group(&mut content, tree.root());
        let content_id = id(5 + 2 * k);
        let mut page = pdf.page(id(4 + 2 * k));
        page.media_box(Rect::new(
            0.0,
            0.0,
            width * POINTS_PER_PX,
            height * POINTS_PER_PX,
        ));
        page.parent(pages);
        page.contents(content_id);
        page.resources();
        page.finish();
        pdf.stream(content_id, &content.finish());
    }
    Ok(pdf.finish())
}

fn group(content: &mut Content, group: &Group) {
    for node in group.children() {
        match node {
            Node::Group(inner) => self::group(content, inner),
            Node::Path(path) => shape(content, path),
            Node::Text(text) => self::group(content, text.flattened()),
            Node::Image(_) => {}
        }
    }
}

fn colour(paint: &Paint) -> Option<[f32; 3]> {
    match paint {
        Paint::Color(c) => Some([c.red, c.green, c.blue].map(|v| f32::from(v) / 255.0)),
        _ => None,
    }
}

fn shape(content: &mut Content, path: &usvg::Path) {
    if let Some([r, g, b]) = path.fill().and_then(|f| colour(f.paint())) {
        content.set_fill_rgb(r, g, b);
        outline(content, path.data(), path.abs_transform());
        content.fill_nonzero();
    }
    let Some(stroke) = path.stroke() else { return };
    if let Some([r, g, b]) = colour(stroke.paint()) {
        let scale = path.abs_transform().sx.abs();
        content.save_state();
        content.set_stroke_rgb(r, g, b);
        content.set_line_width(stroke.width().get() * scale);
        content.set_line_cap(LineCapStyle::ButtCap);
        content.set_line_join(match stroke.linejoin() {
            LineJoin::Round => LineJoinStyle::RoundJoin,
            _ => LineJoinStyle::MiterJoin,
        });
        if let Some(dashes) = stroke.dasharray() {
            content.set_dash_pattern(dashes.iter().map(|d| d * scale), 0.0);
        }
        outline(content, path.data(), path.abs_transform());
        content.stroke();
        content.restore_state();
    }
}

fn outline(content: &mut Content, path: &Path, transform: Transform) {
    let map = |p: Point| {
        let mut p = p;
        transform.map_point(&mut p);
        p
    };
    let mut at = Point::zero();
    for segment in path.segments() {
        match segment {
            PathSegment::MoveTo(p) => {
                at = map(p);
                content.move_to(at.x, at.y);
            }
            PathSegment::LineTo(p) => {
                at = map(p);
                content.line_to(at.x, at.y);
            }
            PathSegment::QuadTo(c, p) => {
                // A quadratic curve as the cubic one that equals it.
                let (c, p) = (map(c), map(p));
                let third = |a: f32, b: f32| a + (b - a) * 2.0 / 3.0;
                content.cubic_to(
                    third(at.x, c.x),
                    third(at.y, c.y),
                    third(p.x, c.x),
                    third(p.y, c.y),
                    p.x,
                    p.y,
                );
                at = p;
            }
            PathSegment::CubicTo(a, b, p) => {
                let (a, b, p) = (map(a), map(b), map(p));
                content.cubic_to(a.x, a.y, b.x, b.y, p.x, p.y);
                at = p;
            }
            PathSegment::Close => {
                content.close_path();
            }
        }
    }
}
