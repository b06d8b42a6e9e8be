"""Writes the bill of materials of a binary: bill.py METADATA.json BINARY FOLDER.

The crates are those that `cargo metadata` resolves for the command without its tests: normal dependencies, from the
command down. The licences' own texts are gathered beside it, one file a crate. CycloneDX 1.6, checked against its schema.
"""

import hashlib
import json
import sys
from pathlib import Path

from cyclonedx.contrib.license.factories import LicenseFactory
from cyclonedx.model import HashAlgorithm, HashType
from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentType
from cyclonedx.output import make_outputter
from cyclonedx.schema import OutputFormat, SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator
from packageurl import PackageURL


def linked(metadata):
    """Ids of the crates that go into the command, with what each stands on."""
    nodes = {node["id"]: node for node in metadata["resolve"]["nodes"]}
    root = next(p["id"] for p in metadata["packages"] if p["name"] == "lampwright")
    found, open_ = {}, [root]
    while open_:
        here = open_.pop()
        if here in found:
            continue
        below = [
            dep["pkg"]
            for dep in nodes[here]["deps"]
            if any(kind["kind"] is None for kind in dep["dep_kinds"])
        ]
        found[here] = below
        open_ += below
    return root, found


def component(package, kind, licences):
    crate = Component(
        type=kind,
        name=package["name"],
        version=package["version"],
        bom_ref=f"{package['name']}@{package['version']}",
        purl=PackageURL("cargo", name=package["name"], version=package["version"]),
    )
    if package.get("license"):
        # An older crate parts its choices by a slash, which SPDX writes OR.
        crate.licenses.add(licences.make_from_string(package["license"].replace("/", " OR ")))
    return crate


def licence_texts(packages, folder):
    for package in packages:
        crate = Path(package["manifest_path"]).parent
        texts = sorted(
            path
            for path in crate.iterdir()
            if path.is_file() and path.name.upper().startswith(("LICEN", "COPYING", "NOTICE", "UNLICENSE"))
        )
        words = [f"{package['name']} {package['version']}: {package.get('license') or 'see below'}\n"]
        words += [f"\n---- {path.name}\n\n{path.read_text(errors='replace')}" for path in texts]
        (folder / f"{package['name']}-{package['version']}.txt").write_text("".join(words))


def main():
    metadata = json.loads(Path(sys.argv[1]).read_text())
    binary, folder = Path(sys.argv[2]), Path(sys.argv[3])
    packages = {p["id"]: p for p in metadata["packages"]}
    root, crates = linked(metadata)
    licences = LicenseFactory()
    bom = Bom()
    parts = {
        crate: component(
            packages[crate],
            ComponentType.APPLICATION if crate == root else ComponentType.LIBRARY,
            licences,
        )
        for crate in crates
    }
    digest = hashlib.sha256(binary.read_bytes()).hexdigest()
    parts[root].hashes.add(HashType(alg=HashAlgorithm.SHA_256, content=digest))
    bom.metadata.component = parts[root]
    for crate, part in parts.items():
        if crate != root:
            bom.components.add(part)
    for crate, below in crates.items():
        bom.register_dependency(parts[crate], [parts[b] for b in below])
    text = make_outputter(bom, OutputFormat.JSON, SchemaVersion.V1_6).output_as_string(indent=1)
    fault = JsonStrictValidator(SchemaVersion.V1_6).validate_str(text)
    if fault:
        sys.exit(f"the bill does not follow its schema: {fault}")
    (folder / "lampwright.cdx.json").write_text(text)
    texts = folder / "licences"
    texts.mkdir()
    licence_texts([packages[c] for c in crates if packages[c]["source"]], texts)
    print(f"bill of materials: {len(crates)} crates")


main()
