-- Which pieces could give a strip is told from their sizes alone, without reading the pieces.
create index offcut_sizes on offcut (species, thickness_nm, width_nm, length_nm, straight_edges, square_ends, count)
where count > 0;
