//! Marker shapes, of like weight to the eye.
use crate::canvas::{Canvas, Spot};
use crate::look::{Hand, Ink, WHITE};
use std::f64::consts::TAU;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    Disc,
    Triangle,
    Square,
    Diamond,
    Wedge,
    Pentagon,
    Star,
    Bar,
}

const SHAPES: [Shape; 8] =
    [Shape::Disc, Shape::Triangle, Shape::Square, Shape::Diamond, Shape::Wedge, Shape::Pentagon, Shape::Star, Shape::Bar];

impl Shape {
    pub fn nth(index: usize) -> Shape {
        SHAPES.get(index % SHAPES.len()).copied().unwrap_or(Shape::Disc)
    }

    /// Corners around `centre`; a disc has none.
    fn corners(self, (x, y): Spot, size: f64) -> Vec<Spot> {
        let regular = |corners: usize, from: f64, size: f64| -> Vec<Spot> {
            (0..corners)
                .map(|i| from + TAU * i as f64 / corners as f64)
                .map(|angle| (x + size * angle.sin(), y - size * angle.cos()))
                .collect()
        };
        match self {
            Shape::Disc => Vec::new(),
            Shape::Triangle => regular(3, 0.0, size * 1.25),
            Shape::Wedge => regular(3, TAU / 2.0, size * 1.25),
            Shape::Square => regular(4, TAU / 8.0, size * 1.25),
            Shape::Diamond => regular(4, 0.0, size * 1.3),
            Shape::Pentagon => regular(5, 0.0, size * 1.15),
            Shape::Star => star((x, y), size * 1.4),
            Shape::Bar => vec![
                (x - size * 1.2, y - size * 0.5),
                (x + size * 1.2, y - size * 0.5),
                (x + size * 1.2, y + size * 0.5),
                (x - size * 1.2, y + size * 0.5),
            ],
        }
    }
}

/// Four-pointed.
fn star((x, y): Spot, size: f64) -> Vec<Spot> {
    (0..8)
        .map(|i| (TAU * f64::from(i) / 8.0, if i % 2 == 0 { size } else { size * 0.42 }))
        .map(|(angle, reach)| (x + reach * angle.sin(), y - reach * angle.cos()))
        .collect()
}

/// Marker of `hand` at `centre`, `size` mm from its centre to its edge, with a white rim that parts it from lines.
pub fn marker(canvas: &mut Canvas, hand: &Hand, centre: Spot, size: f64) {
    filled(canvas, hand.shape, centre, size + 0.28, WHITE);
    dot(canvas, hand, centre, size);
}

/// The same without a rim: for clouds of dots.
pub fn dot(canvas: &mut Canvas, hand: &Hand, centre: Spot, size: f64) {
    if hand.hollow {
        hollow(canvas, hand.shape, centre, size * 0.92, hand.ink);
    } else {
        filled(canvas, hand.shape, centre, size, hand.ink);
    }
}

fn filled(canvas: &mut Canvas, shape: Shape, centre: Spot, size: f64, ink: Ink) {
    match shape {
        Shape::Disc => canvas.disc(centre, size, ink),
        other => canvas.polygon(other.corners(centre, size), ink),
    }
}

fn hollow(canvas: &mut Canvas, shape: Shape, centre: Spot, size: f64, ink: Ink) {
    match shape {
        Shape::Disc => canvas.ring(centre, size, ink, 0.9),
        other => {
            let mut corners = other.corners(centre, size);
            let first: Vec<Spot> = corners.iter().take(2).copied().collect();
            corners.extend(first);
            canvas.path(corners, ink, 0.9);
        }
    }
}
