//! The number of threads does not change what is told.

use setdrift_events::{ValidParams, ball_story, possessions};
use setdrift_simulate::{SensorModel, Settings, simulate_game};
use setdrift_simulated::{lantern, measured_occasion, session};

#[test]
fn threads_do_not_change_the_story() {
    let settings = Settings::default();
    let (world, _) = simulate_game(
        &lantern().unwrap(),
        &measured_occasion("made"),
        &settings,
        31,
    )
    .unwrap();
    for sensor in [SensorModel::optical(), SensorModel::radio_10()] {
        let session = session(&world.sense(&sensor, 32).unwrap()).unwrap();
        let params = ValidParams::default();
        let told = |threads| {
            rayon::ThreadPoolBuilder::new()
                .num_threads(threads)
                .build()
                .unwrap()
                .install(|| {
                    let story = ball_story(&session, &params);
                    let found = possessions(&session, &story, &[], &params);
                    (story, found)
                })
        };
        let one = told(1);
        assert!(one.0.spells.len() > 100 && one.1.len() > 20);
        assert_eq!(told(2), one);
        assert_eq!(told(5), one);
    }
}
