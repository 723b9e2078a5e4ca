// Nothing to do here: as a plain script it waits for the stylesheet, and what comes after it in
// the page waits for it. So a browser lays the page out once, styled, and not first without.
