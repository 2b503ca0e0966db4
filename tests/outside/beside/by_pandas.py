"""The same questions for pandas, over the files of the farm folder."""

import numpy as np
import pandas as pd

from tools import HEADS, JARS, WHOLE_NUMBERS, clocked

# pandas reads first, only the columns needed, and asks afterwards.
def frames(**columns):
    def read(name, wanted):
        return pd.read_csv(HEADS[name][0], usecols=wanted.split(), keep_default_na=False,
                           dtype={column: "int64" if column in WHOLE_NUMBERS else str for column in wanted.split()})
    found = {name: read(name, wanted) for name, wanted in columns.items()}
    if "lots" in found:
        lots = found["lots"]
        again = lots.code.duplicated(keep=False)
        lots["lot"] = lots.code.where(~again, lots.code + " " + lots.filled.str[:10])
    return found

def moments(texts):
    return pd.to_datetime(texts, utc=True, format="ISO8601")

def seconds(texts):
    return ((moments(texts) - pd.Timestamp(0, tz="UTC")) // pd.Timedelta(seconds=1)).tolist()

def tuples(word, *columns):
    return list(zip([word] * len(columns[0]), *columns))

MILK = " ".join(JARS)
READ = {
    "spread": lambda: frames(lots="number code filled vessel", sources="lot milking parent", pails="milking vessel went", milkings="number session started",
                             breaks="vessel at washed sanitised", pickups=f"number lot person {MILK}", people="label name"),
    "lot": lambda: frames(lots=f"number code filled vessel made {MILK}", sources="lot milking parent", milkings="session started", pails="milking cow milk went",
                          chill="number lot at temperature thermometer", counts=f"number lot at {MILK}", pickups=f"number lot at person {MILK}",
                          people="label name", samples="number lot drawn", results="number sample analyte figure unit reported"),
    "fridge": lambda: frames(lots=f"number code filled {MILK}", pickups=f"at lot {MILK}", asides=f"at lot sort {MILK}"),
    "packing": lambda: frames(shares="person part half_gallons since until", people="label name", pickups=f"at person {MILK}"),
    "statements": lambda: frames(people="label name", transfers="day sort from_account to_account person amount"),
    "costs": lambda: frames(tickets="paid sort amount", pickups=f"at {MILK}", asides=f"at sort {MILK}"),
}

def graph(f):
    """The milk back and forth, and the ties of lots by a vessel between two clean breaks, as tables of two columns, with the same
    numbers for nodes that DuckDB has."""
    lots, milkings, far = f["lots"].set_index("lot").number, f["milkings"].set_index("session").number, 1_000_000_000
    giver = (-f["sources"].milking.map(milkings)).fillna(f["sources"].parent.map(lots)).astype("int64")
    forth = pd.DataFrame({"node": giver, "other": f["sources"].lot.map(lots)})
    poured = f["pails"].query("went == 'can' and vessel != ''")[["milking", "vessel"]].drop_duplicates().merge(f["milkings"], left_on="milking", right_on="session")
    poured = poured[(-poured.number).isin(giver)].assign(number=lambda own: own.number + far).rename(columns={"started": "used"})
    filled = f["lots"][f["lots"].vessel != ""].rename(columns={"filled": "used"})
    uses = pd.concat([own[["number", "vessel", "used"]] for own in (filled, poured)]).assign(used=lambda own: moments(own.used)).sort_values("used")
    clean = f["breaks"].query("washed == 'yes' and sanitised == 'yes'").assign(used=lambda own: moments(own["at"]), cleaned=lambda own: own.used)
    uses = pd.merge_asof(uses, clean[["vessel", "used", "cleaned"]].sort_values("used"), on="used", by="vessel", allow_exact_matches=False)
    uses["nth"] = (uses.cleaned > uses.groupby("vessel").used.shift()).groupby(uses.vessel).cumsum()
    ways = pd.DataFrame({"node": uses.number, "other": 2 * far + uses.groupby(["vessel", "nth"]).ngroup()})
    shared = forth.assign(node=far - forth.node)[lambda own: own.node.isin(uses.number)]
    ties = pd.concat([ways, shared])
    return turned(forth), forth, pd.concat([ties, turned(ties)])

def turned(way):
    return way.rename(columns={"node": "other", "other": "node"})

def stepped(seeds, *ways):
    """Every node reached, by going through the tables once for each step."""
    found = fresh = np.unique(seeds)
    while len(fresh):
        others = np.unique(np.concatenate([way.other[way.node.isin(fresh)] for way in ways]))
        fresh = others[~np.isin(others, found)]
        found = np.union1d(found, fresh)
    return found

def walked(seeds, *ways):
    """The same by lists of neighbors, which take longer to lay out and are for asking about every lot of a year."""
    found, work = set(seeds), list(seeds)
    while work:
        node = work.pop()
        fresh = {other for way in ways for other in way.get(node, ())} - found
        found |= fresh
        work += fresh
    return list(found)

def reached(walk, milk, lot):
    """The certain nodes, and all of them."""
    back, forth, ties = milk
    behind = walk([lot], back)
    ahead = walk(behind, forth)
    return ahead, walk([*ahead, *walk(behind, back, ties)], forth, ties)

def pandas_spread(f, at):
    certain, every = reached(stepped, graph(f), at["lot"])
    lots = f["lots"].loc[f["lots"].number.isin(every), ["number", "lot"]].rename(columns={"number": "own"})
    handed = lots.merge(f["pickups"], on="lot", how="left").merge(f["people"], left_on="person", right_on="label", how="left")
    tie = handed.own.isin(certain).map({True: "certain", False: "possible"})
    return list(zip(handed.own, tie, handed.number, handed.label, handed.name, *(handed[size] for size in JARS)))

def pandas_lot(f, at):
    own = f["lots"][f["lots"].number == at["lot"]]
    lot = own.lot.iloc[0]
    of = {name: table[table.lot == lot] for name, table in f.items() if "lot" in table and name != "lots"}
    source = of["sources"].merge(f["milkings"], left_on="milking", right_on="session", how="left").merge(f["lots"][["lot", "number"]], left_on="parent", right_on="lot", how="left")
    cow = of["sources"][["milking"]].merge(f["pails"][f["pails"].went == "can"], on="milking")
    handed = of["pickups"].merge(f["people"], left_on="person", right_on="label", how="left")
    result = of["samples"].merge(f["results"], left_on="number", right_on="sample", suffixes=("_drawn", ""))
    jars = lambda table: [table[size] for size in JARS]
    return (tuples("lot", own.number, seconds(own.filled), own.vessel, *jars(own), own.made) + tuples("source", source.session, seconds(source.started), source.number)
            + tuples("cow", cow.milking, cow.cow, cow.milk) + tuples("chill", of["chill"].number, seconds(of["chill"]["at"]), of["chill"].temperature, of["chill"].thermometer)
            + tuples("count", of["counts"].number, seconds(of["counts"]["at"]), *jars(of["counts"])) + tuples("handed", handed.number, seconds(handed["at"]), handed.label, handed.name, *jars(handed))
            + tuples("result", result.number, seconds(result.drawn), result.analyte, result.figure, result.unit, result.reported))

def pandas_fridge(f, at):
    recent = f["lots"][f["lots"].filled.str[:10].between(at["fridge"], at["day"])].set_index("lot")
    left = recent[JARS]
    for went in (f["pickups"].assign(sort=""), f["asides"]):
        went = went[went.lot.isin(recent.index) & (went["at"].str[:10] <= at["day"])]
        left = left.sub(went[JARS].mul(went["sort"].eq("returned").map({True: -1, False: 1}), axis=0).groupby(went.lot).sum(), fill_value=0)
    left = left.loc[recent.index]
    return list(zip(recent.number, *(left[size].astype("int64") for size in JARS)))

def part_of(text):
    return sum(float(word.split("/")[0]) / float(word.split("/")[1]) if "/" in word else float(word) for word in text.split())

def in_pints(table):
    return 8 * table.gallons + 4 * table.half_gallons + 2 * table.quarts + table.pints

def pandas_packing(f, at):
    shares = f["shares"][(f["shares"].since <= at["day"]) & ((f["shares"].until == "") | (f["shares"].until >= at["day"]))]
    # Half a hundredth goes up, as a round of SQL has it and a round of numpy has not.
    share = (shares.part.map(part_of) * shares.half_gallons * 100 + 0.5).astype("int64").groupby(shares.person).sum().rename("share")
    recent = f["pickups"][f["pickups"]["at"].str[:10].between(at["packing"], at["day"])]
    taken = in_pints(recent).groupby(recent.person).sum().rename("taken")
    all_of = f["people"].merge(share, left_on="label", right_index=True).merge(taken, left_on="label", right_index=True, how="left")
    return list(zip(all_of.label, all_of.name, all_of.share, all_of.taken.fillna(0)))

def pandas_statements(f, at):
    books = f["transfers"][f["transfers"].person != ""]
    amount = books.amount.str.replace(".", "", regex=False).astype("int64") * (books.to_account.eq("household").astype("int64") - books.from_account.eq("household"))
    books = books.assign(cents=amount)
    balance = books[books.day <= at["day"]].groupby("person").cents.sum().reindex(f["people"].label, fill_value=0)
    sorts = books[books.day.between(at["year"], at["day"])].groupby(["person", "sort"], as_index=False).cents.sum()
    return tuples("balance", f["people"].label, f["people"].name, balance) + tuples("sort", sorts.person, sorts["sort"], sorts.cents)

def pandas_costs(f, at):
    bills = f["tickets"][f["tickets"].paid.between(at["year"], at["day"])]
    paid = bills.amount.str.replace(".", "", regex=False).astype("int64")
    paid = paid.where(~bills["sort"].isin(["calf sold", "calf kept"]), -paid.abs()).groupby(bills["sort"]).agg(["sum", "count"])
    pints = [in_pints(table[table["at"].str[:10].between(at["year"], at["day"])]).sum() for table in (f["pickups"], f["asides"][f["asides"]["sort"] == "returned"])]
    return tuples("bill", paid.index, paid["sum"], paid["count"]) + [("handed out", pints[0] - pints[1])]

def by_pandas(question, at):
    reading, read = clocked(READ[question])
    asking, found = clocked(lambda: globals()[f"pandas_{question}"](read, at))
    return reading + asking, found, {"reading_ms": reading * 1000}
