//! From SVG to PNG, with the font that goes with the program.
//!
//! Never here: system fonts, files, remote content: a drawing that names an image gets none.
//! Promises: the same drawing gives the same bytes; a text is drawn, not dropped.

use std::sync::{Arc, LazyLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::fontdb::Database;
use resvg::usvg::{ImageHrefResolver, Options, Tree};

use super::svg::FAMILY;

/// The font database, loaded once: reading a font takes longer than drawing.
static FONTS: LazyLock<Arc<Database>> = LazyLock::new(|| {
    let mut fonts = Database::new();
    fonts.load_font_data(dejavu::sans::regular().to_vec());
    // Without these, a text with a generic family is left out without a word.
    fonts.set_sans_serif_family(FAMILY);
    fonts.set_serif_family(FAMILY);
    fonts.set_monospace_family(FAMILY);
    Arc::new(fonts)
});

/// A drawing as a tree of shapes.
pub(super) fn tree(svg: &str) -> Tree {
    let options = Options {
        fontdb: Arc::clone(&FONTS),
        font_family: FAMILY.to_owned(),
        image_href_resolver: ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..Options::default()
    };
    Tree::from_str(svg, &options).expect("OK because our own writer writes well-formed SVG")
}

/// A drawing as PNG, `scale` picture points for each unit of the drawing.
pub(super) fn png(svg: &str, scale: f32) -> Vec<u8> {
    let tree = tree(svg);
    let size = tree.size().to_int_size().scale_by(scale).expect("OK because no scale is zero");
    let mut canvas = Pixmap::new(size.width(), size.height())
        .expect("OK because a drawing has a width and a height");
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut canvas.as_mut());
    canvas.encode_png().expect("OK because writing to memory does not fail")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawing(text: &str) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"90\" height=\"20\" \
             font-family=\"{FAMILY}\"><text x=\"2\" y=\"14\" font-size=\"12\">{text}</text></svg>"
        )
    }

    #[test]
    fn a_text_is_drawn_and_not_left_out() {
        let empty = png(&drawing(""), 1.0);
        for text in ["left", "Größe", "año", "Ж", "◆"] {
            assert_ne!(png(&drawing(text), 1.0), empty, "{text}");
        }
    }

    #[test]
    fn no_file_is_read_for_a_drawing() {
        let with_image = drawing("").replace(
            "</svg>",
            "<image href=\"file:///etc/hostname\" width=\"9\" height=\"9\"/></svg>",
        );
        assert_eq!(png(&with_image, 1.0), png(&drawing(""), 1.0));
    }
}
