"""Lists what a crate offers, one line an item with its types, from rustdoc's JSON form: list.py FILE.json"""

import json
import sys

DOC = json.load(open(sys.argv[1], encoding="utf-8"))
INDEX = DOC["index"]


def generic(args):
    if not args:
        return ""
    found = args.get("angle_bracketed")
    if found is None:
        return "(..)"
    names = [kind(a["type"]) if "type" in a else str(next(iter(a.values()))) for a in found["args"] if a != "infer"]
    return f"<{', '.join(names)}>" if names else ""


def bound(b):
    found = b.get("trait_bound")
    return found["trait"]["path"] + generic(found["trait"]["args"]) if found else str(b.get("outlives", "use<..>"))


def kind(t):
    """A type as it is written."""
    if t is None:
        return "()"
    (name, v), = t.items()
    if name == "resolved_path":
        return v["path"] + generic(v["args"])
    if name in ("generic", "primitive"):
        return v
    if name == "borrowed_ref":
        return f"&{'mut ' if v['is_mutable'] else ''}{kind(v['type'])}"
    if name == "tuple":
        return f"({', '.join(map(kind, v))})"
    if name == "slice":
        return f"[{kind(v)}]"
    if name == "array":
        return f"[{kind(v['type'])}; {v['len']}]"
    if name == "impl_trait":
        return "impl " + " + ".join(map(bound, v))
    if name == "dyn_trait":
        return "dyn " + " + ".join(p["trait"]["path"] + generic(p["trait"]["args"]) for p in v["traits"])
    if name == "qualified_path":
        return f"{kind(v['self_type'])}::{v['name']}"
    if name == "function_pointer":
        return "fn" + signature(v["sig"])
    return name


def signature(sig):
    takes = ", ".join(f"{n}: {kind(t)}" for n, t in sig["inputs"])
    gives = f" -> {kind(sig['output'])}" if sig["output"] else ""
    return f"({takes}){gives}"


def parts(shape, named):
    """Ids of the public fields of a struct or variant; `named` is the form that gives them names."""
    if not isinstance(shape, dict):
        return []
    return shape.get(named, {}).get("fields", []) or [f for f in shape.get("tuple", []) if f is not None]


def walk(item, path, out, seen):
    if item is None or item["visibility"] not in ("public", "default"):
        return
    (what, v), = item["inner"].items()
    name = item["name"] or ""
    here = f"{path}::{name}" if path else name
    below = lambda ids, at=here: [walk(INDEX.get(str(i)), at, out, seen) for i in ids]
    if what == "use":
        # After all modules: what has a public path of its own is listed there.
        LATER.append((path, v))
        return
    seen.add(item["id"])
    if what == "module":
        below(v["items"])
    elif what == "function":
        out.add(f"fn {here}{signature(v['sig'])}")
    elif what in ("struct", "union", "enum"):
        shape = v.get("kind")
        if isinstance(shape, dict) and shape.get("plain", {}).get("has_stripped_fields"):
            out.add(f"{what} {here} (with fields of its own)")
        out.add(f"{what} {here}")
        below(v.get("fields", []) or parts(shape, "plain"))
        below(v.get("variants", []))
        for i in v["impls"]:
            own = INDEX.get(str(i))
            if own is None:
                continue
            block = own["inner"]["impl"]
            if block["trait"] is None:
                below(block["items"])
            elif not block["is_synthetic"] and block["blanket_impl"] is None and "automatically_derived" not in own["attrs"]:
                out.add(f"impl {block['trait']['path']}{generic(block['trait']['args'])} for {here}")
    elif what == "trait":
        out.add(f"trait {here}")
        below(v["items"])
    elif what == "struct_field":
        out.add(f"field {here}: {kind(v)}")
    elif what == "variant":
        out.add(f"variant {here}" + (f" = {v['discriminant']['value']}" if v.get("discriminant") else ""))
        below(parts(v["kind"], "struct"))
    elif what in ("constant", "assoc_const", "static"):
        out.add(f"const {here}: {kind(v['type'])}")
    elif what == "type_alias":
        out.add(f"type {here} = {kind(v['type'])}")
    elif what in ("assoc_type", "macro", "proc_macro"):
        out.add(f"{what} {here}")


def again(path, v, out, seen):
    """Something offered under a further name."""
    target = INDEX.get(str(v["id"])) if v["id"] is not None else None
    name = f"{path}::{'*' if v['is_glob'] else v['name']}"
    out.add(f"use {name} = {v['source']}")
    if target is None or target["id"] in seen:
        return
    if v["is_glob"]:
        for i in target["inner"].get("module", {}).get("items", []):
            walk(INDEX.get(str(i)), path, out, seen)
    else:
        walk({**target, "name": v["name"], "visibility": "public"}, path, out, seen)


LATER = []
lines, walked = set(), set()
walk(INDEX[str(DOC["root"])], "", lines, walked)
while LATER:
    again(*LATER.pop(0), lines, walked)
print("\n".join(sorted(lines)))
