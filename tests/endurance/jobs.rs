//! Kills in the middle of what is not a page: a copy, an import, a migration, a restore, and the start itself.

use super::{Chance, Tally, wrongs};
use crate::{
    farm::Farm,
    migrations,
    program::{Program, run, said, tallypail},
};
use std::{
    fs,
    path::{Path, PathBuf},
    process::{Command, Stdio},
    thread,
    time::Duration,
};
use tallypail::{
    store::{Ledger, backup, records},
    trade::{book::Book, copies::is_a_copy},
};
use tempfile::TempDir;

/// What the jobs begin with.
pub struct Ground {
    folder: TempDir,
    book: Book,
}

/// Starts a command, kills it within so many microseconds, and says whether that was before it ended by itself.
fn kill_within(command: &mut Command, most: u64, chance: &mut Chance) -> bool {
    let mut child = command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    chance.wait(most);
    let running = child.try_wait().unwrap().is_none();
    let _ = child.kill();
    child.wait().unwrap();
    running
}

/// Starts to serve a ledger and is killed before or after it listens.
pub fn killed_at_its_start(file: &Path, chance: &mut Chance) {
    let mut command = tallypail(file.parent().unwrap());
    kill_within(command.args(["--ledger", "farm.ledger", "serve", "--listen", "127.0.0.1:0"]), 80_000, chance);
}

/// The form an older ledger has.
const OLD_FORM: i64 = 5;

impl Ground {
    /// A ledger of the sample farm, a copy of it, its folder, and a ledger of an older form.
    pub async fn laid() -> Ground {
        let folder = tempfile::tempdir().unwrap();
        let farm = Farm::sample().await;
        backup::write(&farm.ledger, &folder.path().join("copy.ledger"), farm.now).await.unwrap();
        let book = records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap();
        farm.ledger.close().await;
        fs::copy(farm.file(), folder.path().join("sample.ledger")).unwrap();
        migrations::old_ledger(&folder.path().join("old.ledger"), OLD_FORM).await;
        Ground { folder, book }
    }

    fn fresh(&self, from: &str) -> (TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("farm.ledger");
        if !from.is_empty() {
            fs::copy(self.folder.path().join(from), &file).unwrap();
        }
        (folder, file)
    }

    /// Kills one of the four jobs in the middle, and then has it done to its end.
    pub async fn kill_in(&self, job: usize, chance: &mut Chance, tally: &mut Tally) {
        let running = match job {
            0 => self.in_a_copy(chance).await,
            1 => self.in_an_import(chance).await,
            2 => self.in_a_migration(chance).await,
            _ => self.in_a_restore(chance).await,
        };
        tally.kills += 1;
        tally.jobs[job].0 += 1;
        tally.jobs[job].1 += usize::from(running);
    }

    async fn holds_the_same(&self, file: &Path) {
        assert_eq!(wrongs(file).await, Vec::<String>::new(), "{}", file.display());
        let ledger = Ledger::open(file).await.unwrap();
        assert!(records::book(&mut ledger.read().await.unwrap()).await.unwrap() == self.book, "{} holds other records", file.display());
        ledger.close().await;
    }

    /// Whatever bears a copy's name is whole, and a half one is gone when the next is there.
    async fn in_a_copy(&self, chance: &mut Chance) -> bool {
        let (folder, file) = self.fresh("sample.ledger");
        let stick = folder.path().join("stick");
        fs::create_dir(&stick).unwrap();
        let names = || fs::read_dir(&stick).unwrap().map(|own| own.unwrap().file_name().into_string().unwrap()).collect::<Vec<_>>();
        let copies = || names().into_iter().filter(|own| is_a_copy(own)).collect::<Vec<_>>();
        let mut command = tallypail(folder.path());
        command.args(["--ledger", "farm.ledger", "serve", "--listen", "127.0.0.1:0", "--copies", "stick"]);
        kill_within(&mut command, 900_000, chance);
        let before = copies();
        let noted: Vec<String> = sqlx::query_scalar("SELECT file FROM backups").fetch_all(&mut super::looking(&file).await).await.unwrap();
        let is_noted = |name: &String| noted.iter().any(|own| own.ends_with(name.as_str()));
        for name in &before {
            self.holds_the_same(&stick.join(name)).await;
        }
        let in_the_middle = !before.iter().any(is_noted);
        let program = Program::serve(&file, &["--copies", "stick"]);
        // A copy that was noted before the kill is young, and no other is due.
        while in_the_middle && copies().len() == before.len() {
            thread::sleep(Duration::from_millis(20));
        }
        program.kill();
        for name in copies() {
            self.holds_the_same(&stick.join(name)).await;
        }
        if in_the_middle {
            assert!(names().iter().all(|own| is_a_copy(own) || own.contains(".ledger-")), "{:?}", names());
        }
        in_the_middle
    }

    /// All of the folder is in, or nothing, and then it is taken in.
    async fn in_an_import(&self, chance: &mut Chance) -> bool {
        let (folder, file) = self.fresh("");
        let sample = format!("{}/sample-data", env!("CARGO_MANIFEST_DIR"));
        let words = ["--ledger", "farm.ledger", "import", &sample];
        let running = kill_within(tallypail(folder.path()).args(words), 4_000_000, chance);
        let again = run(folder.path(), &words);
        if !again.status.success() {
            assert!(said(&again, false).contains("holds a farm's records already"));
        }
        assert_eq!(wrongs(&file).await, Vec::<String>::new());
        let mut db = super::looking(&file).await;
        let acts: i64 = sqlx::query_scalar("SELECT count(DISTINCT act) FROM journal").fetch_one(&mut db).await.unwrap();
        assert_eq!((acts, records::book(&mut db).await.unwrap().size()), (1, self.book.size()));
        running
    }

    /// The old ledger is brought to the newest form, however often that was cut short.
    async fn in_a_migration(&self, chance: &mut Chance) -> bool {
        let (folder, file) = self.fresh("old.ledger");
        let words = ["--ledger", "farm.ledger", "check"];
        let running = kill_within(tallypail(folder.path()).args(words), 100_000, chance);
        said(&run(folder.path(), &words), true);
        assert_eq!(wrongs(&file).await, Vec::<String>::new());
        let copies = fs::read_dir(folder.path()).unwrap().map(|own| own.unwrap().path());
        for copy in copies.filter(|own| own.to_string_lossy().contains("before-form") && !own.to_string_lossy().contains(".half")) {
            Ledger::open(&copy).await.unwrap().close().await;
        }
        running
    }

    /// The new ledger is there whole or not at all.
    async fn in_a_restore(&self, chance: &mut Chance) -> bool {
        let (folder, file) = self.fresh("");
        let copy = self.folder.path().join("copy.ledger").display().to_string();
        let words = ["--ledger", "farm.ledger", "restore", &copy];
        let running = kill_within(tallypail(folder.path()).args(words), 1_500_000, chance);
        if !file.exists() {
            said(&run(folder.path(), &words), true);
        }
        self.holds_the_same(&file).await;
        running
    }
}
