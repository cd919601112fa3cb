//! Decides how far a part that rests on some of too many contacts goes with each error, on the whole.
//!
//! Each rest is a linear map of its own, and which of them is taken hangs on the errors: three pads almost on a line would carry the part
//! far, but it lies on them only where their errors are such that it does not. So what an error does is read off places that parts really
//! take: the straight line through them that leaves least squares, over all errors together (linear regression, any textbook of
//! statistics). What the line leaves over is spread as well, and is of no single error.

use nalgebra::{DMatrix, Matrix6, RowDVector, Vector6};

use super::sampling::thousand;
use super::shift::{BodyShift, Model};

/// How the places of a body go with its errors.
#[derive(Clone, Debug)]
pub struct Tendency {
    /// Displacement for one unit of each of the body's causes: six rows (m, then rad), a column a cause.
    pub by_cause: DMatrix<f64>,
    /// Where it lies in the mean.
    pub mean: Vector6<f64>,
    /// Mean products of what is left over.
    pub left: Matrix6<f64>,
}

impl Tendency {
    pub(super) fn of(model: &Model, body: &BodyShift) -> Self {
        let [mut errors, mut places] = thousand(model, body);
        let parts = errors.nrows() as f64;
        centre(&mut errors);
        let mean = centre(&mut places).transpose();
        // Errors that are never off have no part in it; all others in units of their own spread.
        let spreads: Vec<f64> =
            errors.column_iter().map(|column| (column.norm_squared() / parts).sqrt()).collect();
        let varied: Vec<usize> = (0..spreads.len()).filter(|cause| spreads[*cause] > 0.0).collect();
        let scaled = DMatrix::from_fn(errors.nrows(), varied.len(), |part, column| {
            errors[(part, varied[column])] / spreads[varied[column]]
        });
        let products = scaled.tr_mul(&scaled);
        let found = match products.cholesky() {
            Some(products) => products.solve(&scaled.tr_mul(&places)),
            // More errors than parts: each by itself.
            None => scaled.tr_mul(&places) / parts,
        };
        let left = &places - &scaled * &found;
        let left = left.tr_mul(&left) / parts;
        let mut by_cause = DMatrix::zeros(6, spreads.len());
        for (row, cause) in varied.iter().enumerate() {
            by_cause.set_column(*cause, &(found.row(row).transpose() / spreads[*cause]));
        }
        Self {
            by_cause,
            mean: Vector6::from_fn(|row, _| mean[row]),
            left: Matrix6::from_fn(|row, column| left[(row, column)]),
        }
    }
}

/// Takes the mean out of every column, and returns it.
fn centre(rows: &mut DMatrix<f64>) -> RowDVector<f64> {
    let mean = rows.row_mean();
    for mut row in rows.row_iter_mut() {
        row -= &mean;
    }
    mean
}
