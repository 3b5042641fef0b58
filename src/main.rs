//! The `recurve` command: hands over to [`recurve::cli`].

fn main() -> std::process::ExitCode {
    recurve::cli::run()
}
