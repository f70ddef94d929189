// Small wiring of the page that attributes cannot say.
