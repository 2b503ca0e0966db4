//! A picture as a plain value: bars, lines and texts on a field of whole units. Page and paper draw the same marks, so they
//! cannot disagree.
//!
//! Nothing in it is told by colour alone: its shades differ in black and white, its lines differ by dash, and each bar and
//! each line has its name beside it.

/// How wide a picture is drawn. A phone's column is about as many pixels wide, so a unit there is a pixel.
pub const WIDE: i32 = 384;

/// A picture, and what it shows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Picture {
    /// A word or a few joined by hyphens, unique on the sheet: its place on the page can be named by it.
    pub name: String,
    /// What stands over it.
    pub caption: String,
    /// What it shows, in a sentence or two with the main figures, for somebody who cannot see it.
    pub alt: String,
    /// How wide its field is.
    pub wide: i32,
    /// How tall its field is.
    pub tall: i32,
    /// What stands on it; what comes later lies on top.
    pub marks: Vec<Mark>,
}

/// One mark on a picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Mark {
    /// A filled bar with a rim.
    Bar(Bar),
    /// A line through points.
    Line(Line),
    /// A text.
    Text(Text),
}

/// A filled bar with a rim.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bar {
    /// Its left edge.
    pub x: i32,
    /// Its upper edge.
    pub y: i32,
    /// How wide it is.
    pub wide: i32,
    /// How tall it is.
    pub tall: i32,
    /// What it is filled with.
    pub shade: Shade,
    /// Whether it has a rim of its own. Many narrow bars side by side have none, or they would be all rim.
    pub rim: bool,
}

/// The six fillings. Each prints in another grey, and the rim round a bar keeps the white one from vanishing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shade {
    /// Rim blue, black in print.
    First,
    /// Light blue.
    Second,
    /// Grease pencil.
    Third,
    /// Sand.
    Fourth,
    /// Steel.
    Fifth,
    /// The palest, white in print.
    Sixth,
}

impl Shade {
    /// All six, in order.
    pub const ALL: [Shade; 6] = [Shade::First, Shade::Second, Shade::Third, Shade::Fourth, Shade::Fifth, Shade::Sixth];

    /// The shade as a mark in the page's look.
    #[must_use]
    pub const fn mark(self) -> &'static str {
        match self {
            Shade::First => "part-1",
            Shade::Second => "part-2",
            Shade::Third => "part-3",
            Shade::Fourth => "part-4",
            Shade::Fifth => "part-5",
            Shade::Sixth => "part-6",
        }
    }

    /// How light it prints, from 0, which is black, to 255; the page's look prints the same greys.
    #[must_use]
    pub const fn grey(self) -> u8 {
        match self {
            Shade::First => 0x00,
            Shade::Second => 0x99,
            Shade::Third => 0x55,
            Shade::Fourth => 0xdd,
            Shade::Fifth => 0x77,
            Shade::Sixth => 0xff,
        }
    }
}

/// A line through points.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// The points, across and down.
    pub points: Vec<(i32, i32)>,
    /// How it is drawn.
    pub stroke: Stroke,
}

impl Line {
    /// The points as a page writes them: `10,20 30,40`.
    #[must_use]
    pub fn path(&self) -> String {
        self.points.iter().map(|(x, y)| format!("{x},{y}")).collect::<Vec<_>>().join(" ")
    }
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stroke {
    /// Solid and heavy.
    Heavy,
    /// Dashed.
    Dashed,
    /// As thin and pale as it can be: it guides the eye and says nothing of its own.
    Hair,
}

impl Stroke {
    /// The stroke as a mark in the page's look.
    #[must_use]
    pub const fn mark(self) -> &'static str {
        match self {
            Stroke::Heavy => "run",
            Stroke::Dashed => "run-2",
            Stroke::Hair => "grid",
        }
    }
}

/// A text on one line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Text {
    /// Where it begins, has its middle or ends, as `anchor` says.
    pub x: i32,
    /// Where the feet of its letters stand.
    pub y: i32,
    /// Which point of it stands at `x`.
    pub anchor: Anchor,
    /// How large it is.
    pub letter: Letter,
    /// Whether it is bold.
    pub bold: bool,
    /// What it says.
    pub says: String,
}

/// Which point of a text stands where it is put.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its beginning.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

impl Anchor {
    /// The anchor as SVG names it (SVG 1.1, 10.9.1).
    #[must_use]
    pub const fn mark(self) -> &'static str {
        match self {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        }
    }
}

/// The two sizes of letters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Letter {
    /// Labels and figures: as small as can be read on a phone.
    Small,
    /// What a picture says first.
    Normal,
}

impl Letter {
    /// The size in units.
    #[must_use]
    pub const fn units(self) -> i32 {
        match self {
            Letter::Small => 14,
            Letter::Normal => 16,
        }
    }

    /// From one line of text to the next.
    #[must_use]
    pub const fn leading(self) -> i32 {
        self.units() + 4
    }

    /// How much room a text takes, at six tenths of its size a letter: what a wide face needs, so that no face overruns it.
    #[must_use]
    pub fn room(self, text: &str) -> i32 {
        let letters = i32::try_from(text.chars().count()).unwrap_or(WIDE);
        (letters.min(1000) * self.units() * 6 + 9) / 10
    }

    /// The text on lines that each fit this room, at most so many; what is cut away is marked by an ellipsis.
    #[must_use]
    pub fn lines(self, text: &str, room: i32, most: usize) -> Vec<String> {
        let fit = usize::try_from(room * 10 / (self.units() * 6)).unwrap_or(1).max(2);
        let mut lines: Vec<String> = Vec::new();
        for word in text.split_whitespace() {
            let letters: Vec<char> = word.chars().collect();
            for piece in letters.chunks(fit) {
                match lines.last_mut() {
                    Some(line) if line.chars().count() + 1 + piece.len() <= fit => {
                        line.push(' ');
                        line.extend(piece);
                    }
                    _ => lines.push(piece.iter().collect()),
                }
            }
        }
        if lines.len() > most {
            lines.truncate(most);
            let cut = lines.pop().map(|last| last.chars().take(fit - 1).chain(['…']).collect());
            lines.extend(cut);
        }
        lines
    }
}

impl Picture {
    /// An empty picture of the usual width under this title.
    #[must_use]
    pub fn titled(title: &str) -> Picture {
        let words = title.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
        Picture {
            name: words.map(str::to_lowercase).collect::<Vec<_>>().join("-"),
            caption: title.to_owned(),
            wide: WIDE,
            ..Picture::default()
        }
    }

    /// Puts a bar on it. A bar too small to be seen is one unit, because it is there.
    pub fn bar(&mut self, (x, y): (i32, i32), (wide, tall): (i32, i32), shade: Shade) {
        self.marks.push(Mark::Bar(Bar { x, y, wide: wide.max(1), tall: tall.max(1), shade, rim: true }));
    }

    /// Puts a narrow bar on it that joins its neighbours; its shade must not be the white one, which would vanish.
    pub fn slat(&mut self, (x, y): (i32, i32), (wide, tall): (i32, i32), shade: Shade) {
        self.marks.push(Mark::Bar(Bar { x, y, wide: wide.max(1), tall: tall.max(1), shade, rim: false }));
    }

    /// Draws a line on it.
    pub fn line(&mut self, stroke: Stroke, points: Vec<(i32, i32)>) {
        self.marks.push(Mark::Line(Line { points, stroke }));
    }

    /// Writes a small text on it.
    pub fn small(&mut self, at: (i32, i32), anchor: Anchor, says: impl Into<String>) {
        self.write(at, anchor, Letter::Small, false, says.into());
    }

    /// Writes a small bold text on it: a figure.
    pub fn figure(&mut self, at: (i32, i32), anchor: Anchor, says: impl Into<String>) {
        self.write(at, anchor, Letter::Small, true, says.into());
    }

    /// Writes a bold text of the larger size on it.
    pub fn first(&mut self, at: (i32, i32), anchor: Anchor, says: impl Into<String>) {
        self.write(at, anchor, Letter::Normal, true, says.into());
    }

    fn write(&mut self, (x, y): (i32, i32), anchor: Anchor, letter: Letter, bold: bool, says: String) {
        if !says.is_empty() {
            self.marks.push(Mark::Text(Text { x, y, anchor, letter, bold, says }));
        }
    }
}
