//! A cell that is saved while it is shown: read anew, with the files that it names.

use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use seamwright_sim::by_hand::Jog;
use seamwright_sim::cell::SeamId;
use seamwright_viewer::logic::lesson::read_lessons;
use seamwright_viewer::logic::{Ask, Practice, Source, Trouble};
use seamwright_viewer::show::Show;
use tempfile::TempDir;

use super::{app, ask, bracket, scenes, time, wait};

/// The starter cell in a folder of its own, and its file.
fn copied() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    for file in ["gate-bracket/cell.toml", "arms/reach-1400.toml", "torches/bent-neck.toml"] {
        let to = folder.path().join(file);
        std::fs::create_dir_all(to.parent().unwrap()).unwrap();
        std::fs::copy(scenes().join(file), to).unwrap();
    }
    let file = folder.path().join("gate-bracket/cell.toml");
    (folder, file)
}

/// Saves a file as if so many minutes had gone by.
fn save(file: &Path, content: &[u8], minutes: u64) {
    std::fs::write(file, content).unwrap();
    let time = SystemTime::now() + Duration::from_secs(60 * minutes);
    std::fs::File::options().write(true).open(file).unwrap().set_modified(time).unwrap();
}

#[test]
fn a_saved_file_is_loaded_anew_and_a_broken_one_leaves_the_last_good_cell() {
    let (_folder, file) = copied();
    let mut app = app(&bracket());
    app.insert_resource(Source::new(file.clone()));
    app.insert_resource(Practice {
        lessons: read_lessons(&scenes().join("lessons"), bracket().cell).unwrap(),
        folder: Some(scenes().join("lessons")),
        ..Practice::default()
    });
    ask(&mut app, Ask::Lesson(3));
    ask(&mut app, Ask::GoTo(12.0));
    let good = std::fs::read_to_string(&file).unwrap();
    save(&file, good.replace("close_s = 2", "close_s = \"two\"").as_bytes(), 1);
    wait(&mut app, |app| !app.world().resource::<Trouble>().0.is_empty());
    let trouble = &app.world().resource::<Trouble>().0;
    assert!(trouble[0].contains("cell.toml:") && trouble[0].contains("close_s"), "{trouble:?}");
    assert_eq!(app.world().resource::<Show>().cell.name, "gate-bracket");
    save(&file, good.replace("name = \"gate-bracket\"", "name = \"changed\"").as_bytes(), 2);
    wait(&mut app, |app| app.world().resource::<Show>().cell.name == "changed");
    assert!(app.world().resource::<Trouble>().0.is_empty());
    assert_eq!(time(&app), 12.0);
    // The lessons are for the cell as it was called before.
    assert!(app.world().resource::<Practice>().lessons.is_empty());
    app.update();
}

#[test]
fn a_mesh_that_is_saved_alone_loads_the_cell_anew_and_the_lesson_at_hand_begins_anew() {
    let (folder, file) = copied();
    let mut app = app(&bracket());
    app.insert_resource(Source::new(file.clone()));
    app.insert_resource(Practice {
        lessons: read_lessons(&scenes().join("lessons"), bracket().cell).unwrap(),
        folder: Some(scenes().join("lessons")),
        ..Practice::default()
    });
    ask(&mut app, Ask::Lesson(3));
    ask(&mut app, Ask::Hold(Jog::Axis(0, 1.0)));
    assert!(app.world().resource::<Practice>().progress.elapsed > 0.0);
    let good = std::fs::read_to_string(&file).unwrap();
    // Far from everything.
    let with_mesh = format!(
        "{good}\n[[shape]]\nname = \"saddle\"\nkind = \"mesh\"\nfile = \"saddle.stl\"\nunit = \"mm\"\nup = \"z\"\nat_mm = [0, -3000, 0]\n"
    );
    save(&file, with_mesh.as_bytes(), 1);
    wait(&mut app, |app| !app.world().resource::<Trouble>().0.is_empty());
    let trouble = &app.world().resource::<Trouble>().0;
    assert!(trouble[0].contains("saddle.stl"), "{trouble:?}");
    let mesh = std::fs::read(scenes().join("pump-skid/skid-saddle.stl")).unwrap();
    save(&folder.path().join("gate-bracket/saddle.stl"), &mesh, 1);
    wait(&mut app, |app| {
        app.world().resource::<Show>().cell.shapes.iter().any(|shape| shape.name == "saddle")
    });
    app.update();
    assert!(app.world().resource::<Trouble>().0.is_empty());
    let practice = app.world().resource::<Practice>();
    assert_eq!((practice.at, practice.progress.elapsed), (Some(3), 0.0));
}

#[test]
fn the_seam_that_is_looked_at_is_still_looked_at_where_it_is_welded_though_its_time_is_another() {
    let (_folder, file) = copied();
    let mut app = app(&bracket());
    app.insert_resource(Source::new(file.clone()));
    ask(&mut app, Ask::Seam(SeamId(3)));
    let before = time(&app);
    let good = std::fs::read_to_string(&file).unwrap();
    let slower = good.replace("travel_speed_mm_s = 7", "travel_speed_mm_s = 4");
    save(&file, slower.as_bytes(), 1);
    let speed = |show: &Show| show.cell.seams[3].procedure.travel_speed;
    wait(&mut app, |app| speed(app.world().resource::<Show>()) < 0.005);
    app.update();
    let show = app.world().resource::<Show>();
    assert_eq!(time(&app), show.start_of(SeamId(3)).unwrap());
    assert!(time(&app) > before + 1.0, "{} {before}", time(&app));
}
