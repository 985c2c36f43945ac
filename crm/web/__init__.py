"""What a browser sees: one gate, the studio's screens, and the pages that owners reach by a link."""
