//! Pixels to a PNG file. Figures hold few colours: an indexed picture is a quarter of the bytes to pack.
//!
//! White is the first colour, so that paper becomes runs of zeros, which the fast packer packs best.
use resvg::tiny_skia::Pixmap;

/// More distinct colours than this are not counted further.
const SEEN_LIMIT: usize = 4096;
const SLOTS: usize = 4 * SEEN_LIMIT;

/// The picture as PNG with its density. It is opaque, so premultiplied colours are the colours.
pub fn encoded(picture: &Pixmap, dpi: u32) -> Result<Vec<u8>, png::EncodingError> {
    let mut bytes = Vec::with_capacity(picture.data().len() / 16);
    let mut encoder = png::Encoder::new(&mut bytes, picture.width(), picture.height());
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Fast);
    let per_metre = (f64::from(dpi) / 0.0254).round() as u32;
    encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: per_metre, yppu: per_metre, unit: png::Unit::Meter }));
    match indexed(picture.data(), picture.width() as usize) {
        Some(Indexed { palette, places }) => {
            encoder.set_color(png::ColorType::Indexed);
            encoder.set_palette(palette);
            encoder.set_filter(png::Filter::Up);
            let mut writer = encoder.write_header()?;
            writer.write_image_data(&places)?;
            writer.finish()?;
        }
        None => {
            encoder.set_color(png::ColorType::Rgba);
            let mut writer = encoder.write_header()?;
            writer.write_image_data(picture.data())?;
            writer.finish()?;
        }
    }
    Ok(bytes)
}

struct Indexed {
    /// Red, green, blue in turn.
    palette: Vec<u8>,
    places: Vec<u8>,
}

/// Steps a channel for rare colours, and how many frequent ones (paper, inks, fills) stay as they are; the first that gives
/// 256 colours is taken. 256 steps change nothing.
const TRIES: [(u16, usize); 7] = [(256, 256), (32, 144), (16, 144), (16, 96), (10, 144), (10, 112), (10, 88)];

/// Colours are counted on every third row: a fill is higher than that.
const COUNTED_ROWS: usize = 3;

/// All colours as they are if 256 suffice; else the frequent ones, and the rare shades of smoothed
/// edges in steps. None where that does not suffice either.
fn indexed(rgba: &[u8], width: usize) -> Option<Indexed> {
    let (colours, numbers) = counted(rgba, width)?;
    let mut order: Vec<usize> = (1..colours.seen.len()).collect();
    let pixels = frequencies(&numbers, colours.seen.len(), width);
    order.sort_by_key(|i| std::cmp::Reverse(pixels.get(*i).copied().unwrap_or(0)));
    order.insert(0, 0);
    let (palette, place_of) = TRIES.into_iter().find_map(|(steps, kept)| palette(&colours, &order, steps, kept))?;
    let places = placed(&numbers, &place_of, width);
    Some(Indexed { palette: palette.concat(), places })
}

/// How many pixels have each colour.
fn frequencies(numbers: &[u16], colours: usize, width: usize) -> Vec<u32> {
    let mut pixels = vec![0u32; colours];
    for number in numbers.chunks_exact(width.max(1)).step_by(COUNTED_ROWS).flatten() {
        if let Some(count) = pixels.get_mut(usize::from(*number)) {
            *count += 1;
        }
    }
    pixels
}

/// A palette of at most 256 colours with the place of each colour by number: the first of `order` exact, the others in `steps`.
fn palette(colours: &Colours, order: &[usize], steps: u16, kept: usize) -> Option<(Vec<[u8; 3]>, Vec<u8>)> {
    let mut palette: Vec<[u8; 3]> = Vec::new();
    let mut place_of = vec![0u8; colours.seen.len()];
    for (rank, number) in order.iter().enumerate() {
        let colour = *colours.seen.get(*number)?;
        let colour = if rank < kept || steps == 256 { colour } else { colour.map(|c| rounded(c, steps)) };
        let known = if steps == 256 { None } else { palette.iter().position(|c| *c == colour) };
        let place = known.unwrap_or(palette.len());
        *place_of.get_mut(*number)? = u8::try_from(place).ok()?;
        if known.is_none() {
            palette.push(colour);
        }
    }
    Some((palette, place_of))
}

/// Nearest of `steps` even steps from 0 to 255: white stays white, black stays black.
fn rounded(channel: u8, steps: u16) -> u8 {
    let last = steps - 1;
    let step = (u16::from(channel) * last + 127) / 255;
    ((step * 255 + last / 2) / last) as u8
}

/// Pixels looked at together: most are like those above them, and told so by one comparison.
const BLOCK: usize = 16;

/// The place of each pixel's colour in the palette.
fn placed(numbers: &[u16], place_of: &[u8], width: usize) -> Vec<u8> {
    let mut places: Vec<u8> = Vec::with_capacity(numbers.len());
    let mut above: &[u16] = &[];
    for row in numbers.chunks_exact(width.max(1)) {
        for block in row.chunks(BLOCK) {
            let from = places.len() % width;
            if above.get(from..from + block.len()) == Some(block) {
                let start = places.len() - width;
                places.extend_from_within(start..start + block.len());
            } else {
                places.extend(block.iter().map(|n| place_of.get(usize::from(*n)).copied().unwrap_or(0)));
            }
        }
        above = row;
    }
    places
}

/// The distinct colours in order of appearance, white first, and the number of each pixel's; none above the limit.
fn counted(rgba: &[u8], width: usize) -> Option<(Colours, Vec<u16>)> {
    let mut colours = Colours::new();
    let mut numbers: Vec<u16> = Vec::with_capacity(rgba.len() / 4);
    let mut above: &[u8] = &[];
    for row in rgba.chunks_exact(4 * width.max(1)) {
        for block in row.chunks(4 * BLOCK) {
            let from = 4 * (numbers.len() % width);
            if above.get(from..from + block.len()) == Some(block) {
                let start = numbers.len() - width;
                numbers.extend_from_within(start..start + block.len() / 4);
            } else {
                colours.count(block, &mut numbers)?;
            }
        }
        above = row;
    }
    Some((colours, numbers))
}

/// Distinct colours by an open table.
struct Colours {
    seen: Vec<[u8; 3]>,
    /// One above the colour's number; zero is free.
    slots: Vec<u16>,
}

impl Colours {
    fn new() -> Self {
        let mut colours = Colours { seen: Vec::new(), slots: vec![0; SLOTS] };
        colours.number([255; 3]);
        colours
    }

    /// Adds the numbers of a block's pixels.
    fn count(&mut self, block: &[u8], numbers: &mut Vec<u16>) -> Option<()> {
        let (mut last, mut number): (&[u8], u16) = (&[], 0);
        for pixel in block.chunks_exact(4) {
            if pixel != last {
                let [r, g, b, _] = pixel else { return None };
                number = self.number([*r, *g, *b])?;
                last = pixel;
            }
            numbers.push(number);
        }
        Some(())
    }

    fn number(&mut self, colour: [u8; 3]) -> Option<u16> {
        let key = u32::from_le_bytes([colour[0], colour[1], colour[2], 0]);
        let mut slot = (key.wrapping_mul(0x9E37_79B1) >> 12) as usize % SLOTS;
        loop {
            let number = *self.slots.get(slot)?;
            if number == 0 {
                break;
            }
            if self.seen.get(usize::from(number) - 1) == Some(&colour) {
                return Some(number - 1);
            }
            slot = (slot + 1) % SLOTS;
        }
        if self.seen.len() >= SEEN_LIMIT {
            return None;
        }
        self.seen.push(colour);
        let number = self.seen.len() as u16;
        *self.slots.get_mut(slot)? = number;
        Some(number - 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(colours: u32) -> Pixmap {
        let mut picture = Pixmap::new(100, 60).unwrap();
        for (i, pixel) in picture.data_mut().chunks_exact_mut(4).enumerate() {
            let i = i as u32 % colours;
            pixel.copy_from_slice(&[(i % 251) as u8, (i / 251 * 7) as u8, (i * 13 % 256) as u8, 255]);
        }
        picture
    }

    fn read_back(png: &[u8]) -> Vec<u8> {
        let mut decoder = png::Decoder::new(std::io::Cursor::new(png));
        decoder.set_transformations(png::Transformations::EXPAND);
        let mut reader = decoder.read_info().unwrap();
        let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
        let info = reader.next_frame(&mut pixels).unwrap();
        let channels = info.color_type.samples();
        pixels.chunks_exact(channels).flat_map(|p| p[..3].to_vec()).collect()
    }

    fn colours_of(picture: &Pixmap) -> Vec<u8> {
        picture.data().chunks_exact(4).flat_map(|p| p[..3].to_vec()).collect()
    }

    #[test]
    fn a_picture_of_up_to_256_colours_comes_back_exactly() {
        let picture = picture(200);
        assert_eq!(read_back(&encoded(&picture, 300).unwrap()), colours_of(&picture));
    }

    #[test]
    fn a_picture_of_many_colours_comes_back_exactly() {
        let picture = picture(6000);
        assert_eq!(read_back(&encoded(&picture, 300).unwrap()), colours_of(&picture));
    }

    #[test]
    fn with_more_than_256_colours_the_frequent_stay_and_the_rare_move_little() {
        let mut picture = Pixmap::new(400, 6).unwrap();
        for (i, pixel) in picture.data_mut().chunks_exact_mut(4).enumerate() {
            let rare = [(i % 20 * 2) as u8, (i % 16) as u8, 90 + (i / 20 % 20) as u8];
            let [r, g, b] = if i < 1200 { [10, (i % 2) as u8 * 200, 90] } else { rare };
            pixel.copy_from_slice(&[r, g, b, 255]);
        }
        let (before, after) = (colours_of(&picture), read_back(&encoded(&picture, 300).unwrap()));
        assert_eq!(before[..3600], after[..3600]);
        assert_ne!(before, after);
        assert!(before.iter().zip(&after).all(|(a, b)| a.abs_diff(*b) <= 15));
    }

    #[test]
    fn rounding_keeps_black_and_white() {
        for steps in [32, 16, 10] {
            assert_eq!((rounded(0, steps), rounded(255, steps)), (0, 255));
            let reach = 255 / (steps - 1) / 2 + 1;
            assert!((0..=255u8).all(|c| u16::from(rounded(c, steps).abs_diff(c)) <= reach));
        }
    }
}
