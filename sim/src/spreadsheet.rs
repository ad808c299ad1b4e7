//! Tables as benches and spreadsheets give them: commas, semicolons or tabs between cells, points
//! or commas in numbers, with or without a byte-order mark, notes after `#` before the header.

use csv::{ReaderBuilder, StringRecord, Trim};

use crate::error::InputError;

/// A table with a header, in text.
#[derive(Clone, PartialEq, Debug)]
pub struct Table {
    /// The names of the columns.
    pub header: Vec<String>,
    /// The line of the header, counted from 1.
    pub header_line: u64,
    /// The rows that have as many cells as the header.
    pub rows: Vec<Row>,
    /// Lines of rows that have not.
    pub ragged: Vec<u64>,
    /// Numbers may have a comma where others have a point.
    comma_in_numbers: bool,
}

/// One row of a table.
#[derive(Clone, PartialEq, Debug)]
pub struct Row {
    /// Its line in the file, counted from 1.
    pub line: u64,
    cells: StringRecord,
}

impl Row {
    /// The text of a cell; empty where there is none.
    pub fn cell(&self, column: usize) -> &str {
        self.cells.get(column).unwrap_or_default()
    }

    /// How many cells it has.
    pub fn width(&self) -> usize {
        self.cells.len()
    }
}

impl Table {
    /// Reads the table in the bytes of a file.
    ///
    /// # Errors
    /// Not text, or no header; names the line.
    pub fn read(bytes: &[u8]) -> Result<Self, InputError> {
        let text = std::str::from_utf8(bytes).map_err(|cause| {
            let line = bytes[..=cause.valid_up_to()].split(|&byte| byte == b'\n').count();
            InputError::new("is not UTF-8 text")
                .field("the file")
                .line(line as u64)
                .suggest("Save the table as CSV in UTF-8")
        })?;
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let body = preamble_end(text);
        let between = between_cells(text[body..].lines().next().unwrap_or_default());
        let mut lines = LineCounter::new(text);
        let mut reader = ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(between)
            .trim(Trim::All)
            .from_reader(&text.as_bytes()[body..]);
        let mut records = reader.records();
        let cannot = |cause| InputError::new(format!("cannot be read: {cause}"));
        let Some(header) = records.next() else {
            return Err(InputError::new("the file is empty")
                .suggest("It needs a header line and at least one row"));
        };
        let header = header.map_err(cannot)?;
        let mut table = Self {
            header_line: lines.at(body + byte_of(&header)),
            header: header.iter().map(str::to_lowercase).collect(),
            rows: vec![],
            ragged: vec![],
            comma_in_numbers: between != b',',
        };
        for record in records {
            let cells = record.map_err(cannot)?;
            let line = lines.at(body + byte_of(&cells));
            if cells.iter().all(str::is_empty) {
                continue;
            }
            if cells.len() == table.header.len() {
                table.rows.push(Row { line, cells });
            } else {
                table.ragged.push(line);
            }
        }
        Ok(table)
    }

    /// Where a column stands.
    pub fn column(&self, name: &str) -> Option<usize> {
        self.header.iter().position(|column| column == name)
    }

    /// The number in a cell, `None` where it is empty.
    ///
    /// # Errors
    /// It is no number; names line, column and value.
    pub fn number(&self, row: &Row, column: usize) -> Result<Option<f64>, InputError> {
        let text = row.cell(column);
        if text.is_empty() {
            return Ok(None);
        }
        let plain = match text.matches([',', '.']).count() {
            1 if self.comma_in_numbers => text.replace(',', "."),
            _ => text.to_owned(),
        };
        let number = plain.parse::<f64>().ok().filter(|number| number.is_finite());
        number.map(Some).ok_or_else(|| {
            InputError::new("must be a number")
                .line(row.line)
                .field(&*self.header[column])
                .value(text)
        })
    }

    /// Refuses a column that stands twice, and rows with more or fewer cells than the header.
    ///
    /// # Errors
    /// Names the column or the line.
    pub fn regular(&self) -> Result<(), InputError> {
        for (at, name) in self.header.iter().enumerate() {
            if self.header[..at].contains(name) {
                let twice = InputError::new("stands twice in the header");
                return Err(twice.line(self.header_line).field(name.as_str()));
            }
        }
        let Some(&line) = self.ragged.first() else { return Ok(()) };
        let width = self.header.len();
        let error = InputError::new(format!("must have {width} cells, as the header has"))
            .line(line)
            .field("the row");
        Err(if self.comma_in_numbers {
            error
        } else {
            error.suggest("Numbers with a decimal comma need semicolons between the cells")
        })
    }
}

/// What stands between the cells of a header: a semicolon or tab only stands there for that.
fn between_cells(header: &str) -> u8 {
    [b';', b'\t'].into_iter().find(|&mark| header.as_bytes().contains(&mark)).unwrap_or(b',')
}

/// Where the header starts: after blank lines and those that begin with `#`.
pub(crate) fn preamble_end(text: &str) -> usize {
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        if !line.trim().is_empty() && !line.starts_with('#') {
            break;
        }
        at += line.len();
    }
    at
}

/// Line numbers of rising byte offsets. The parser's own count stands before skipped blank lines.
pub(crate) struct LineCounter<'a> {
    text: &'a str,
    counted: usize,
    line: u64,
}

impl<'a> LineCounter<'a> {
    pub(crate) fn new(text: &'a str) -> Self {
        Self { text, counted: 0, line: 1 }
    }

    pub(crate) fn at(&mut self, byte: usize) -> u64 {
        let blank = |b: &u8| matches!(b, b'\r' | b'\n');
        let rest = self.text.as_bytes().get(byte..).unwrap_or_default();
        let at = byte + rest.iter().take_while(|b| blank(b)).count();
        let passed = self.text.get(self.counted..at).unwrap_or_default();
        self.line += passed.matches('\n').count() as u64;
        self.counted = at;
        self.line
    }
}

/// Where a record starts.
pub(crate) fn byte_of(row: &StringRecord) -> usize {
    row.position().map_or(0, |position| position.byte() as usize)
}
