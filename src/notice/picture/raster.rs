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
    encoded(&canvas)
}

/// The steps of each channel that are kept: edges stay smooth and the file gets three times
/// smaller, which counts in a mail.
const CHANNEL_STEP: u8 = 8;

/// A canvas without transparency as PNG: with a palette where its colours fit one.
fn encoded(canvas: &Pixmap) -> Vec<u8> {
    let colours = canvas.pixels().iter().map(|p| [p.red(), p.green(), p.blue()].map(kept));
    // Most pixels look like the one before them: only the first of a run is looked up.
    let mut palette: Vec<[u8; 3]> = Vec::new();
    for colour in colours.clone() {
        if palette.last() != Some(&colour) {
            palette.push(colour);
        }
    }
    palette.sort_unstable();
    palette.dedup();
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, canvas.width(), canvas.height());
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::High);
    let data: Vec<u8> = if palette.len() <= 256 {
        encoder.set_color(png::ColorType::Indexed);
        encoder.set_palette(palette.concat());
        // A palette's numbers are not brightness: neighbours tell nothing of each other.
        encoder.set_filter(png::Filter::NoFilter);
        let index = |colour| u8::try_from(palette.binary_search(&colour).unwrap_or(0)).unwrap_or(0);
        let mut run = ([0; 3], index([0; 3]));
        colours
            .map(|colour| {
                if colour != run.0 {
                    run = (colour, index(colour));
                }
                run.1
            })
            .collect()
    } else {
        encoder.set_color(png::ColorType::Rgb);
        colours.flatten().collect()
    };
    let mut writer = encoder.write_header().expect("OK because writing to memory does not fail");
    writer.write_image_data(&data).expect("OK because the data has the size of the canvas");
    writer.finish().expect("OK because writing to memory does not fail");
    file
}

/// A channel's value to the nearest step; white stays white.
fn kept(value: u8) -> u8 {
    match value.saturating_add(CHANNEL_STEP / 2) / CHANNEL_STEP * CHANNEL_STEP {
        248.. => u8::MAX,
        step => step,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawing(text: &str) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"90\" height=\"20\" \
             font-family=\"{FAMILY}\"><rect width=\"90\" height=\"20\" fill=\"#fff\"/><text x=\"2\" y=\"14\" font-size=\"12\">{text}</text></svg>"
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
    fn the_colours_in_use_come_out_as_they_were_named() {
        let inks = super::super::ink::TEXTS.into_iter().chain(super::super::ink::SIGNS);
        for colour in inks.flat_map(|pair| [pair.ink, pair.ground]) {
            let channel = |at| u8::from_str_radix(&colour[at..at + 2], 16).expect("OK: #rrggbb");
            for value in [channel(1), channel(3), channel(5)] {
                assert_eq!(kept(value), value, "{colour}");
            }
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
