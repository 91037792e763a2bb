"""Price lists as people keep them: the usual words for each column."""

from importers.layout import Layout

LAYOUT = Layout(
    "price list",
    {
        "at": (
            "at", "when seen", "seen at", "seen on", "seen", "timestamp", "date and time",
            "date/time", "datetime", "date + time", "date", "day + time", "day", "when", "time",
        ),
        "item": ("item", "item name", "name", "article", "goods", "product", "ware", "what"),
        "price": (
            "price", "unit price", "price per unit", "price each", "price (each)", "unit cost",
            "cost per unit", "each", "cost", "asking price", "asking",
        ),
        "money": ("money", "currency", "coin", "paid in", "in"),
        "side": ("side", "kind", "type", "offer or wanted", "direction"),
        "qty": (
            "qty", "quantity", "amount", "count", "units", "number", "pieces", "pcs", "stock",
            "available", "how many",
        ),
        "trader": ("trader", "seller", "vendor", "merchant", "offered by", "by", "who", "from"),
        "source": ("source", "where", "market", "place", "board", "link", "seen where"),
        "note": ("note", "notes", "remark", "remarks", "comment", "comments", "memo"),
    },
)  # fmt: skip
