//! Decides where words stand on a drawing so that they cover neither each other nor a seam.

use std::f64::consts::TAU;

use nalgebra::{Point2, Vector2};
use svg::node::element::{Group, Line, Text};

use super::fit::Sheet;
use crate::findings::words::fixed;

/// Distances from the thing at which a label is tried, mm of paper, nearest first.
const DISTANCES: [f64; 8] = [2.5, 4.5, 7.0, 10.0, 14.0, 19.0, 26.0, 35.0];

/// Directions that are tried at each distance.
const DIRECTIONS: usize = 16;

/// Beside a label and around a seam, mm of paper.
const AIR: f64 = 0.8;

/// Mean width of a letter for its height, for a plain sans-serif face.
const LETTER: f64 = 0.56;

/// The labels of one picture.
pub(super) struct Labels {
    sheet: Sheet,
    taken: Vec<Rect>,
    clear: Vec<Point2<f64>>,
}

#[derive(Clone, Copy)]
struct Rect {
    low: Point2<f64>,
    high: Point2<f64>,
}

impl Labels {
    pub(super) fn new(sheet: Sheet) -> Self {
        Self { sheet, taken: Vec::new(), clear: Vec::new() }
    }

    /// Points that no label may cover.
    pub(super) fn keep_clear(&mut self, points: Vec<Point2<f64>>) {
        self.clear.extend(points);
    }

    /// No label may cover any of the rectangle in which all these points lie.
    pub(super) fn keep_clear_of_all(&mut self, points: Vec<Point2<f64>>) {
        let Some(first) = points.first() else { return };
        let (low, high) =
            points.iter().fold((*first, *first), |(low, high), point| (low.inf(point), high.sup(point)));
        self.taken.push(Rect { low, high });
    }

    /// Adds `words` near `at` with a line to it. Where there is no room, a label that must be there covers something, and any
    /// other is left out.
    pub(super) fn place(
        &mut self,
        group: Group,
        at: &Point2<f64>,
        words: &str,
        size: f64,
        must: bool,
    ) -> Group {
        let half = Vector2::new(LETTER * size * words.chars().count() as f64 / 2.0, size / 2.0);
        let candidates = DISTANCES.iter().flat_map(|distance| {
            (0..DIRECTIONS).map(move |step| {
                // Up and to the right first.
                let (sin, cos) = (TAU * (step as f64 / DIRECTIONS as f64 - 0.125)).sin_cos();
                let reach = Vector2::new(cos * (distance + half.x), sin * (distance + half.y));
                Rect { low: at + reach - half, high: at + reach + half }
            })
        });
        let candidates: Vec<Rect> = candidates.collect();
        let free = candidates.iter().find(|rect| self.is_free(rect));
        let Some(rect) = free.or_else(|| candidates.first().filter(|_| must)).copied() else { return group };
        self.taken.push(rect);
        let near = Point2::new(at.x.clamp(rect.low.x, rect.high.x), at.y.clamp(rect.low.y, rect.high.y));
        group
            .add(
                Line::new()
                    .set("x1", fixed(at.x, 3))
                    .set("y1", fixed(at.y, 3))
                    .set("x2", fixed(near.x, 3))
                    .set("y2", fixed(near.y, 3))
                    .set("stroke", "black")
                    .set("stroke-width", 0.1),
            )
            // Letters stand on their base line, a fifth of their height above the foot of the rectangle.
            .add(text(rect.low.x, rect.high.y - 0.15 * size, size, words))
    }

    fn is_free(&self, rect: &Rect) -> bool {
        let sheet = self.sheet;
        let inside = rect.low.x > sheet.left
            && rect.low.y > sheet.top
            && rect.high.x < sheet.left + sheet.width
            && rect.high.y < sheet.top + sheet.height - 6.0;
        let apart = |other: &Rect| {
            rect.low.x > other.high.x + AIR
                || rect.high.x + AIR < other.low.x
                || rect.low.y > other.high.y
                || rect.high.y < other.low.y
        };
        let covers = |point: &Point2<f64>| {
            (rect.low.x - AIR..=rect.high.x + AIR).contains(&point.x)
                && (rect.low.y - AIR..=rect.high.y + AIR).contains(&point.y)
        };
        inside && self.taken.iter().all(apart) && !self.clear.iter().any(covers)
    }
}

/// Words with their base line's left end at x, y.
pub(super) fn text(x: f64, y: f64, size: f64, words: &str) -> Text {
    // A white rim keeps words readable where they cross a line.
    Text::new(words)
        .set("x", fixed(x, 3))
        .set("y", fixed(y, 3))
        .set("font-size", size)
        .set("stroke", "white")
        .set("stroke-width", fixed(size / 6.0, 3))
        .set("stroke-linejoin", "round")
        .set("paint-order", "stroke")
}
