//! Where a board may listen.

use fadewatch::config::{Problems, parse_clinic};

const CLINIC: &str = include_str!("../../config/clinic.toml");

fn with_board(board: &str) -> Result<String, Problems> {
    let text = format!("{CLINIC}\n[board]\n{board}\n");
    let clinic = parse_clinic("clinic.toml", &text)?.value;
    Ok(clinic.board.unwrap().address.to_string())
}

fn refused(board: &str) -> String {
    with_board(board).expect_err(board).to_string()
}

#[test]
fn without_its_table_there_is_no_board() {
    assert!(parse_clinic("clinic.toml", CLINIC).unwrap().value.board.is_none());
}

#[test]
fn a_board_on_an_open_address_without_tls_is_refused() {
    for open in ["0.0.0.0:8470", "192.0.2.7:8470", "[::]:8470"] {
        let told = refused(&format!("listen = \"{open}\""));
        assert!(told.contains("open to the network unprotected"), "{told}");
        let https = "address = \"https://board.clinic.example\"";
        let told = refused(&format!("listen = \"{open}\"\n{https}"));
        assert!(told.contains("open to the network unprotected"), "{told}");
        let proxy = format!("listen = \"{open}\"\nbehind_proxy = true\n{https}");
        assert_eq!(with_board(&proxy).unwrap(), "https://board.clinic.example");
        let tls = "certificate = \"c.pem\"\nkey = \"k.pem\"";
        let tls = format!("listen = \"{open}\"\n{tls}\n{https}");
        assert_eq!(with_board(&tls).unwrap(), "https://board.clinic.example");
    }
    assert_eq!(with_board("listen = \"127.0.0.1:8470\"").unwrap(), "http://127.0.0.1:8470");
    assert_eq!(with_board("listen = \"[::1]:8470\"").unwrap(), "http://[::1]:8470");
}

#[test]
fn half_a_protection_is_refused_with_what_is_missing() {
    let told = refused("listen = \"127.0.0.1:8470\"\nkey = \"k.pem\"");
    assert!(told.contains("a certificate and its key belong together"), "{told}");
    let told = refused("listen = \"127.0.0.1:8470\"\nbehind_proxy = true");
    assert!(told.contains("`address` is missing"), "{told}");
    let proxy = "listen = \"127.0.0.1:8470\"\nbehind_proxy = true";
    let told = refused(&format!("{proxy}\naddress = \"http://board.clinic.example\""));
    assert!(told.contains("its address is not"), "{told}");
    let told = refused(&format!("{proxy}\naddress = \"https://board.clinic.example/x\""));
    assert!(told.contains("is no address of a board"), "{told}");
    let told = refused("listen = \"localhost\"");
    assert!(told.contains("is no address to listen on"), "{told}");
}
