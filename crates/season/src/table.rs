//! A result table: Arrow columns, each with its description and unit.

use arrow::{
    array::{ArrayRef, BooleanArray, Float64Array, Int64Array, StringArray},
    datatypes::{DataType, Field, Schema},
    error::ArrowError,
    record_batch::RecordBatch,
};
use std::{collections::HashMap, sync::Arc};

/// A result table.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// File stem: `segments`.
    pub name: &'static str,
    /// What a row is.
    pub about: &'static str,
    /// The rows. Each field's metadata has its `description` and, where it has one, its `unit`.
    pub batch: RecordBatch,
}

/// Builds one table column by column from a slice of rows.
pub struct TableBuilder<'a, R> {
    name: &'static str,
    about: &'static str,
    rows: &'a [R],
    fields: Vec<Field>,
    columns: Vec<ArrayRef>,
}

impl<'a, R> TableBuilder<'a, R> {
    /// A table with no columns yet.
    pub fn new(name: &'static str, about: &'static str, rows: &'a [R]) -> Self {
        Self {
            name,
            about,
            rows,
            fields: Vec::new(),
            columns: Vec::new(),
        }
    }

    fn push(
        mut self,
        name: &str,
        kind: DataType,
        unit: &str,
        description: &str,
        column: ArrayRef,
    ) -> Self {
        let mut metadata = HashMap::from([("description".to_owned(), description.to_owned())]);
        if !unit.is_empty() {
            metadata.insert("unit".to_owned(), unit.to_owned());
        }
        self.fields
            .push(Field::new(name, kind, true).with_metadata(metadata));
        self.columns.push(column);
        self
    }

    /// A column of text.
    #[must_use]
    pub fn text(self, name: &str, about: &str, value: impl Fn(&R) -> Option<String>) -> Self {
        let column: StringArray = self.rows.iter().map(value).collect();
        self.push(name, DataType::Utf8, "", about, Arc::new(column))
    }

    /// A column of numbers, rounded to thousandths so that CSV and Parquet agree for readers;
    /// what is not finite is empty.
    #[must_use]
    pub fn number(
        self,
        name: &str,
        unit: &str,
        about: &str,
        value: impl Fn(&R) -> Option<f64>,
    ) -> Self {
        let round = |v: f64| v.is_finite().then(|| (v * 1000.0).round() / 1000.0 + 0.0);
        let column: Float64Array = self.rows.iter().map(|r| value(r).and_then(round)).collect();
        self.push(name, DataType::Float64, unit, about, Arc::new(column))
    }

    /// A column of counts or indices.
    #[must_use]
    pub fn count(self, name: &str, about: &str, value: impl Fn(&R) -> Option<usize>) -> Self {
        let column: Int64Array = self
            .rows
            .iter()
            .map(|r| value(r).and_then(|v| i64::try_from(v).ok()))
            .collect();
        self.push(name, DataType::Int64, "", about, Arc::new(column))
    }

    /// A column of yes or no.
    #[must_use]
    pub fn flag(self, name: &str, about: &str, value: impl Fn(&R) -> Option<bool>) -> Self {
        let column: BooleanArray = self.rows.iter().map(value).collect();
        self.push(name, DataType::Boolean, "", about, Arc::new(column))
    }

    /// The finished table.
    ///
    /// # Errors
    /// [`ArrowError`] when two columns have one name or lengths differ; the builder prevents both.
    pub fn build(self) -> Result<Table, ArrowError> {
        let schema = Schema::new(self.fields);
        let batch = RecordBatch::try_new(Arc::new(schema), self.columns)?;
        Ok(Table {
            name: self.name,
            about: self.about,
            batch,
        })
    }
}
