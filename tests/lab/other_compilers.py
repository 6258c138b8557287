"""Compilers and build drivers that fail: javac and java, gcc, make, cmake."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tests.lab.other_support import Scenario, Stage

__all__ = ["SCENARIOS"]

Prepare = Callable[[Stage], str]


def files(
    script: str, content: Mapping[str, str], *, hide: tuple[str, ...] = (), needs: tuple[str, ...] = ()
) -> Prepare:
    """A project with these files; `hide`: commands that are not on this agent."""

    def prepare(stage: Stage) -> str:
        for command in needs:
            stage.chest.system(command)
        for name, text in content.items():
            stage.write(name, text, mode=0o755 if text.startswith("#!") else 0o644)
        if hide:
            _hide(stage, hide)
        return script + "\n"

    return prepare


def _hide(stage: Stage, commands: tuple[str, ...]) -> None:
    """A PATH with links to all common commands but these."""
    kept = [c for c in ("bash", "sh", "make", "cmake", "ls", "cat", "mkdir", "rm", "cp", "env", "uname", "gcc", "cc", "g++", "c++",
                        "as", "ld", "expr", "sed", "grep") if c not in commands]  # fmt: skip
    stage.quiet("mkdir -p ../bin; for c in " + " ".join(kept) + "; do p=$(command -v $c) && ln -s $p ../bin/$c; done")
    stage.env["PATH"] = str(stage.project.parent / "bin")


def _too_new(stage: Stage) -> str:
    newer = stage.chest.system(
        "/usr/lib/jvm/temurin-25-jdk-amd64/bin/javac", "/usr/lib/jvm/java-21-openjdk-amd64/bin/javac"
    )
    stage.write("Fares.java", _FARES)
    stage.quiet(f"{newer} -d classes Fares.java")
    return "java -version\njava -cp classes Fares\n"


def _memory(stage: Stage) -> str:
    stage.chest.system("java")
    stage.write("Heap.java", "import java.util.*;\npublic class Heap {\n  public static void main(String[] a) {\n"
                "    List<byte[]> kept = new ArrayList<>();\n    while (true) kept.add(new byte[1 << 20]);\n  }\n}\n")  # fmt: skip
    return "javac Heap.java\njava -Xmx16m Heap\n"


def _no_room(stage: Stage) -> str:
    stage.chest.system("java")
    stage.write("Fares.java", _FARES)
    return "javac Fares.java\nulimit -v 3000000\njava -Xms64g -Xmx64g Fares\n"


def _row(tool: str, slug: str, prepare: Prepare, failure: str, line: str, frame: str = "plain") -> Scenario:  # noqa: PLR0917 - the columns of a table
    return Scenario(tool=tool, slug=slug, prepare=prepare, failure=failure, line=line, frame=frame)


_FARES = "public class Fares {\n    public static void main(String[] args) {\n        int fare = 12;\n        System.out.println(fare);\n    }\n}\n"
_C = '#include <stdio.h>\n\nint main(void) {\n    printf("fares\\n");\n    return 0;\n}\n'
_MAKE = "CC = gcc\n\nfares: fares.o tides.o\n\t$(CC) -o $@ $^\n\n%.o: %.c\n\t$(CC) -Wall -c -o $@ $<\n\ncheck: fares\n\t./fares\n"
_CMAKE = "cmake_minimum_required(VERSION 3.10)\nproject(fares C)\nadd_executable(fares fares.c)\nenable_testing()\nadd_test(NAME winter COMMAND fares)\n"
_TIDES = "int tides(void) {\n    return 4;\n}\n"
_JAVAC = ("javac", "java")

SCENARIOS = (
    _row("javac", "symbol", files("javac -version\njavac -d classes Fares.java", {"Fares.java": _FARES.replace("int fare = 12;", "int fare = tariff.winter();")}, needs=_JAVAC), "compile-symbol-not-found", "error: cannot find symbol", "iso"),
    _row("javac", "package", files("javac -d classes Fares.java", {"Fares.java": "import org.junit.jupiter.api.Test;\n\n" + _FARES.replace("public static", "@Test\n    public static")}, needs=_JAVAC), "compile-symbol-not-found", "error: package org.junit.jupiter.api does not exist"),
    _row("javac", "type", files("javac -d classes Fares.java", {"Fares.java": _FARES.replace("12", '"12"')}, needs=_JAVAC), "compile-source-error", "error: incompatible types", "clock"),
    _row("javac", "syntax", files("javac -d classes Fares.java", {"Fares.java": _FARES.replace("12;", "12")}, needs=_JAVAC), "compile-source-error", "error: ';' expected"),
    _row("javac", "release", files("javac --release 6 -d classes Fares.java", {"Fares.java": _FARES}, needs=_JAVAC), "setup-java-release-unsupported", "error: release version 6 not supported", "job"),
    _row("javac", "encoding", files("javac -encoding US-ASCII -Werror -d classes Fares.java", {"Fares.java": _FARES.replace("int", "// Fähre\n        int")}, needs=_JAVAC), "compile-encoding", "unmappable character"),
    _row("javac", "warnings", files("javac -Xlint:all -Werror -d classes Fares.java", {"Fares.java": _FARES.replace("int fare = 12;", "int fare = new Integer(12);")}, needs=_JAVAC), "compile-warning-as-error", "error: warnings found and -Werror", "iso"),
    Scenario(tool="javac", slug="class-too-new", prepare=_too_new, failure="setup-java-class-too-new", line="UnsupportedClassVersionError", version=("java", "-version")),
    Scenario(tool="javac", slug="heap", prepare=_memory, failure="agent-jvm-heap-exhausted", line="OutOfMemoryError: Java heap space", frame="clock"),
    Scenario(tool="javac", slug="no-memory-to-start", prepare=_no_room, failure="agent-jvm-no-memory-to-start", line="Could not (reserve|create)|insufficient memory|reserve enough space"),
    _row("javac", "no-main-class", files("javac -d classes Fares.java\njar cf fares.jar -C classes .\njava -jar fares.jar", {"Fares.java": _FARES}, needs=(*_JAVAC, "jar")), "package-main-class-missing", "no main manifest attribute", "job"),
    _row("gcc", "header", files("gcc --version | head -1\ngcc -c fares.c", {"fares.c": "#include <brackwater/tides.h>\n" + _C}, needs=("gcc",)), "compile-header-missing", "fatal error: brackwater/tides.h", "iso"),
    _row("gcc", "undefined-reference", files("gcc -c fares.c\ngcc -o fares fares.o", {"fares.c": _C.replace("int main", "int tides(void);\nint main").replace("return 0", "return tides()")}, needs=("gcc",)), "compile-link-error", "undefined reference to"),
    _row("gcc", "library", files("gcc -o fares fares.c -ltides", {"fares.c": _C}, needs=("gcc",)), "compile-link-error", "cannot find -ltides", "clock"),
    _row("gcc", "undeclared", files("gcc -Wall -c fares.c", {"fares.c": _C.replace("return 0", "return winter_fare")}, needs=("gcc",)), "compile-symbol-not-found", "error: .winter_fare. undeclared"),
    _row("gcc", "syntax", files("gcc -Wall -c fares.c", {"fares.c": _C.replace("return 0;", "return 0")}, needs=("gcc",)), "compile-source-error", "error: expected", "job"),
    _row("gcc", "warnings", files("gcc -Wall -Werror -c fares.c", {"fares.c": _C.replace("return 0", "int unused;\n    return 0")}, needs=("gcc",)), "compile-warning-as-error", "error: unused variable", "iso"),
    _row("make", "target", files("make --version | head -1\nmake fares\nmake bundle", {"Makefile": _MAKE, "fares.c": _C, "tides.c": _TIDES}, needs=("gcc", "make")), "setup-goal-unknown", "No rule to make target 'bundle'"),
    _row("make", "no-makefile", files("ls\nmake", {"README": "fares\n"}, needs=("make",)), "setup-build-file-missing", "no makefile found", "clock"),
    _row("make", "separator", files("make check", {"Makefile": _MAKE.replace("\t", "    "), "fares.c": _C}, needs=("make",)), "setup-build-file-invalid", "missing separator"),
    _row("make", "header", files("make -j2 check", {"Makefile": _MAKE, "fares.c": _C, "tides.c": '#include "sonar.h"\n' + _TIDES}, needs=("gcc", "make")), "compile-header-missing", "fatal error: sonar.h", "iso"),
    _row("make", "link", files("make check", {"Makefile": _MAKE, "fares.c": _C, "tides.c": _TIDES.replace("return 4", "extern int moon(void);\n    return moon()")}, needs=("gcc", "make")), "compile-link-error", "undefined reference", "job"),
    _row("make", "no-compiler", files("make", {"Makefile": _MAKE, "fares.c": _C, "tides.c": _TIDES}, hide=("gcc", "cc"), needs=("make",)), "setup-native-compiler-missing", "gcc: (command not found|No such file|not found)"),
    _row("cmake", "no-lists", files("mkdir -p build\ncmake -S . -B build", {"README": "fares\n"}, needs=("cmake",)), "setup-build-file-missing", "does not appear to contain CMakeLists.txt", "iso"),
    _row("cmake", "parse", files("cmake -S . -B build", {"CMakeLists.txt": _CMAKE.replace("project(fares C)", "project fares C)"), "fares.c": _C}, needs=("cmake",)), "setup-build-file-invalid", "Parse error|CMake Error at"),
    _row("cmake", "too-old", files("cmake --version\ncmake -S . -B build", {"CMakeLists.txt": _CMAKE.replace("3.10", "3.99"), "fares.c": _C}, needs=("cmake",)), "setup-build-tool-version-enforced", "CMake 3.99 or higher is required", "clock"),
    _row("cmake", "no-compiler", files("cmake -S . -B build", {"CMakeLists.txt": _CMAKE, "fares.c": _C}, hide=("gcc", "cc"), needs=("cmake", "make")), "setup-native-compiler-missing", "No CMAKE_C_COMPILER could be found"),
    _row("cmake", "compile", files("cmake -S . -B build\ncmake --build build", {"CMakeLists.txt": _CMAKE, "fares.c": _C.replace("return 0", "return winter_fare")}, needs=("cmake", "gcc")), "compile-symbol-not-found", "error: .winter_fare. undeclared", "job"),
    _row("cmake", "test", files("cmake -S . -B build\ncmake --build build\nctest --test-dir build --output-on-failure", {"CMakeLists.txt": _CMAKE, "fares.c": _C.replace("return 0", "return 3")}, needs=("cmake", "gcc")), "test-failed", r"\*\*\*Failed"),
)  # fmt: skip
