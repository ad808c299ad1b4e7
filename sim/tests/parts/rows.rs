//! Rows handed on whole.

use std::io::Write;

use drydown_sim::rows::Rows;

/// Keeps what comes piece by piece.
#[derive(Default)]
struct Pieces(std::rc::Rc<std::cell::RefCell<Vec<Vec<u8>>>>);

impl Write for Pieces {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.borrow_mut().push(bytes.to_vec());
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// A write that is stopped ends where a page of the file does: only a row alone may lie across.
#[test]
fn no_piece_but_a_single_row_lies_across_two_pages() {
    let sink = Pieces::default();
    let pieces = sink.0.clone();
    let mut rows = Rows::new(sink, false);
    let mut whole = String::from("time_s,what\n");
    rows.write_all(whole.as_bytes()).expect("nothing fails");
    assert_eq!(pieces.borrow().len(), 1, "the header goes at once");
    for row in 0..20_000_u32 {
        let text = format!("{row},{}\n", "x".repeat((row * 7 % 61) as usize));
        // As the formatter does it: bit by bit.
        let (one, other) = text.split_at(2);
        rows.write_all(one.as_bytes()).expect("nothing fails");
        rows.write_all(other.as_bytes()).expect("nothing fails");
        whole += &text;
    }
    rows.flush().expect("nothing fails");
    let pieces = pieces.borrow();
    let mut at = 0;
    for piece in pieces.iter() {
        let single = piece.iter().position(|&byte| byte == b'\n') == Some(piece.len() - 1);
        let last = at + piece.len() - 1;
        assert!(piece.ends_with(b"\n") && (single || at / 4_096 == last / 4_096), "at {at}");
        at += piece.len();
    }
    assert_eq!(pieces.concat(), whole.as_bytes());
    assert!(pieces.len() < 1_000, "{} pieces of {at} bytes", pieces.len());
}

#[test]
fn where_they_come_slowly_each_goes_when_it_ends() {
    let sink = Pieces::default();
    let pieces = sink.0.clone();
    let mut rows = Rows::new(sink, true);
    for row in 0..10 {
        write!(rows, "{row}").expect("nothing fails");
        assert_eq!(pieces.borrow().len(), row);
        writeln!(rows, ",x").expect("nothing fails");
        assert_eq!(pieces.borrow().len(), row + 1);
    }
}
