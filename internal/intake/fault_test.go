package intake_test

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// tiny is a whole small shop; each case below spoils one file of it.
var tiny = map[string]string{
	"stations.csv":       "station,name,stages\nL1,laser,cut\n",
	"people.csv":         "person,name,roles\nP1,Ann,operator\n",
	"qualifications.csv": "person,process,valid_to\nP1,weld,2027-01-01\n",
	"instruments.csv":    "instrument,kind,name,due_by\nG1,caliper,caliper,2027-01-01\n",
	"batches.csv":        "batch,kind\nB1,filler\n",
	"routes.csv":         "route,version,step,stage,face,colour,rework\nCUT,1,10,cut,,,\nPAINT,1,10,coat,outside,basalt,\nMEND,1,10,weld,,,yes\n",
	"checks.csv":         "route,version,step,check,text,kind,nominal,lower,upper,unit\nCUT,1,10,c1,sound,tick,,,,\n",
	"items.csv": "item,rev,kind,name,grade,metal,thickness_mm,route,route_version\n" +
		"SH,1,sheet,sheet,5005,aluminium,3,CUT,1\nPA,1,part,part,5005,aluminium,3,CUT,1\nAS,1,assembly,frame,,aluminium,,CUT,1\nBO,1,bought,hinge,,,,CUT,1\nPT,1,part,panel,5005,aluminium,3,PAINT,1\n",
	"bills.csv":    "item,rev,component,component_rev,qty\nAS,1,PA,1,2\n",
	"finishes.csv": "item,rev,face,colour\nPT,1,outside,basalt\n",
	"outlines.csv": "item,rev,ring,points_mm\nPA,1,1,0 0;9 0;9 9\n",
	"orders.csv":   "order,customer,promised\nO1,Moor,2026-12-01\n",
	"lines.csv":    "order,line,item,rev,qty\nO1,1,AS,1,1\n",
	"nests.csv":    "nest,material,material_rev,part,item,rev,order,line,qty\nN1,SH,1,1,PA,1,O1,1,2\n",
	"sheets.csv":   "sheet,material,material_rev,heat\nM1,SH,1,H1\n",
	"bought.csv":   "delivery,item,rev,qty\nD1,BO,1,5\n",
}

func folder(files map[string]string, changes ...string) fstest.MapFS {
	out := fstest.MapFS{}
	for name, s := range files {
		out[name] = &fstest.MapFile{Data: []byte(s)}
	}
	for i := 0; i+1 < len(changes); i += 2 {
		out[changes[i]] = &fstest.MapFile{Data: []byte(changes[i+1])}
	}
	return out
}

func TestTinyShopIsWhole(t *testing.T) {
	if _, faults := intake.Read(folder(tiny), emptyShop()); len(faults) > 0 {
		t.Fatal(faults)
	}
}

const (
	keyWant   = "a name of at most 64 characters that begins with a letter or digit and has no @, control character or space at its end"
	numWant   = "with a point before its decimals"
	itemHead  = "item,rev,kind,name,grade,metal,thickness_mm,route,route_version\n"
	checkHead = "route,version,step,check,text,kind,nominal,lower,upper,unit\n"
	nestHead  = "nest,material,material_rev,part,item,rev,order,line,qty\n"
)

// TestFaultSentences has every sort of fault once, with its exact words.
func TestFaultSentences(t *testing.T) {
	add := func(file, lines string) (string, string) { return file, tiny[file] + lines }
	c := func(file, data string, want ...string) faultCase { return faultCase{file, data, want} }
	a := func(file, lines string, want ...string) faultCase { f, d := add(file, lines); return c(f, d, want...) }
	long := strings.Repeat("x", 65)
	cases := []faultCase{
		// The text of a file.
		c("batches.csv", "", `batches.csv, line 1: found an empty file; expected a first line that names the columns: batch,kind,colour,expires.`),
		c("batches.csv", "\xff\xfeb\x00", `batches.csv, line 1: found UTF-16 text; expected text in UTF-8; save the file again as CSV in UTF-8.`),
		a("batches.csv", "B\xe92,filler\n", `batches.csv, line 3, column 1: found byte 0xE9, byte 2 of the line, which is not UTF-8; expected text in UTF-8; save the file again as CSV in UTF-8.`),
		a("instruments.csv", "G2,\"a\r\nb\xff\",n,2027-01-01\n", `instruments.csv, line 4, column 2: found byte 0xFF, byte 2 of the line, which is not UTF-8; expected text in UTF-8; save the file again as CSV in UTF-8.`),
		a("batches.csv", "B2,fil\"ler\n", `batches.csv, line 3, column 2: found a quote inside a field that does not begin with one; expected the whole field between quotes, with "" for each quote in it.`),
		a("batches.csv", "B2,\"filler\" \n", `batches.csv, line 3, column 2: found text after a closing quote; expected a comma or the end of the line there.`),
		a("batches.csv", "B2,\"filler\n", `batches.csv, line 3, column 2: found a quote that is never closed; expected a closing quote at the end of the field.`),
		a("batches.csv", "B2,fil\rler\n", `batches.csv, line 3, column 2: found a carriage return that ends no line; expected lines that end with carriage return and line feed.`),
		a("batches.csv", "\nB2,filler\n", `batches.csv, line 3: found an empty line; expected a line with fields, or no line at all.`),
		c("batches.csv", "\n", `batches.csv, line 1: found an empty line; expected a line with fields, or no line at all.`),
		a("batches.csv", "B2\nB3,filler,x\n", `batches.csv, line 3: found 1 field; expected 2 fields, as the first line has.`,
			`batches.csv, line 4: found 3 fields; expected 2 fields, as the first line has.`),
		a("batches.csv", "B2,fil\x00ler\n", `batches.csv, line 3, column 2: found the control character U+0000; expected text without control characters other than tab and line breaks.`),
		a("people.csv", "P2,"+strings.Repeat("n", 4097)+",operator\n", `people.csv, line 3, column 2: found a field of 4097 bytes; expected at most 4096 bytes in a field.`),

		// The header.
		c("batches.csv", "batch;kind\nB1;filler\n", `batches.csv, line 1: found fields parted by semicolons or tabs; expected fields parted by commas.`),
		c("batches.csv", "batch,kind,color\nB1,filler,x\n", `batches.csv, line 1, column 3: found the unknown column "color"; expected the column colour.`),
		c("batches.csv", "batch,kind,weather\nB1,filler,x\n", `batches.csv, line 1, column 3: found the unknown column "weather"; expected one of the columns batch, kind, colour, expires.`),
		c("batches.csv", "batch,kind,kind\nB1,filler,x\n", `batches.csv, line 1, column 3 (kind): found the column kind again, first as column 2; expected each column once.`),
		c("batches.csv", "batch\nB1\n", `batches.csv, line 1 (kind): found no column kind; expected a column named kind in the first line.`),
		c("batches.csv", strings.Repeat("x,", 64)+"x\n", `batches.csv, line 1: found 65 columns; expected at most 64 columns.`),

		// The folder.
		c("parts.csv", "x\n", `parts.csv: found a file of an unknown name; expected one of stations.csv, people.csv, qualifications.csv, instruments.csv, batches.csv, routes.csv, checks.csv, sampling.csv, items.csv, bills.csv, finishes.csv, outlines.csv, orders.csv, lines.csv, nests.csv, sheets.csv, bought.csv.`),
		c("Item.CSV", "x\n", `Item.CSV: found a file of an unknown name; expected the name items.csv.`),

		// Fields by their kind.
		a("batches.csv", ",filler\n", `batches.csv, line 3, column 1 (batch): found nothing; expected `+keyWant+`.`),
		a("batches.csv", "=B,filler\n", `batches.csv, line 3, column 1 (batch): found "=B"; expected `+keyWant+`.`),
		a("batches.csv", long+",filler\n", `batches.csv, line 3, column 1 (batch): found "`+long[:59]+`…"; expected `+keyWant+`.`),
		a("batches.csv", "a@b,filler\n", `batches.csv, line 3, column 1 (batch): found "a@b"; expected `+keyWant+`.`),
		a("batches.csv", "B2 ,filler\n", `batches.csv, line 3, column 1 (batch): found "B2 "; expected `+keyWant+`.`),
		a("people.csv", "P2,,operator\n", `people.csv, line 3, column 2 (name): found nothing; expected a text.`),
		a("people.csv", "P2,  ,operator\n", `people.csv, line 3, column 2 (name): found only spaces; expected a text.`),
		a("people.csv", "P2,Bo,operator welder\n", `people.csv, line 3, column 3 (roles): found "welder"; expected roles parted by single spaces, out of separator, operator, inspector, dispatcher, fitter, manager, service, quality, admin.`),
		a("people.csv", "P2,Bo,operator operator\n", `people.csv, line 3, column 3 (roles): found "operator" twice; expected each word once.`),
		c("people.csv", "person,name,roles,left\nP1,Ann,operator,true\n", `people.csv, line 2, column 4 (left): found "true"; expected one of yes, no.`),
		c("qualifications.csv", "person,process,valid_to\nP1,weld,1.1.2027\n", `qualifications.csv, line 2, column 3 (valid_to): found "1.1.2027"; expected a day as YYYY-MM-DD, such as 2026-11-25.`),
		c("qualifications.csv", "person,process,valid_to\nP1,weld,2027-02-29\n", `qualifications.csv, line 2, column 3 (valid_to): found "2027-02-29"; expected a day as YYYY-MM-DD, such as 2026-11-25.`),
		c("qualifications.csv", "person,process,valid_to\nP1,weld,\n", `qualifications.csv, line 2, column 3 (valid_to): found nothing; expected a day as YYYY-MM-DD, such as 2026-11-25.`),
		c("qualifications.csv", "person,process,valid_to,max_thickness_mm\nP1,weld,2027-01-01,\"3,5\"\n", `qualifications.csv, line 2, column 4 (max_thickness_mm): found "3,5"; expected a point before the decimals, not a comma: 3.5.`),
		c("qualifications.csv", "person,process,valid_to,max_thickness_mm\nP1,weld,2027-01-01,1e2\n", `qualifications.csv, line 2, column 4 (max_thickness_mm): found "1e2"; expected a number from 0 to 1000, `+numWant+`.`),
		c("qualifications.csv", "person,process,valid_to,max_thickness_mm\nP1,weld,2027-01-01,-1\n", `qualifications.csv, line 2, column 4 (max_thickness_mm): found "-1"; expected a number from 0 to 1000, `+numWant+`.`),
		a("lines.csv", "O1,2,PA,1,1.5\n", `lines.csv, line 3, column 5 (qty): found "1.5"; expected a whole number from 1 to 1000000.`),
		a("lines.csv", "O1,2,PA,1,+1\n", `lines.csv, line 3, column 5 (qty): found "+1"; expected a whole number from 1 to 1000000.`),
		a("lines.csv", "O1,2,PA,1,0\n", `lines.csv, line 3, column 5 (qty): found "0"; expected a whole number from 1 to 1000000.`),
		a("lines.csv", "O1,2,PA,1,\n", `lines.csv, line 3, column 5 (qty): found nothing; expected a whole number from 1 to 1000000.`),

		// Keys given twice.
		a("stations.csv", "L1,other,cut\n", `stations.csv, line 3, column 1 (station): found station L1 again, first on line 2; expected it once.`),
		a("people.csv", "P1,Bo,operator\n", `people.csv, line 3, column 1 (person): found person P1 again, first on line 2; expected it once.`),
		a("instruments.csv", "G1,caliper,caliper,2027-01-01\n", `instruments.csv, line 3, column 1 (instrument): found instrument G1 again, first on line 2; expected it once.`),
		a("batches.csv", "B1,bath\n", `batches.csv, line 3, column 1 (batch): found batch B1 again, first on line 2; expected it once.`),
		a("routes.csv", "CUT,1,10,cut,,,\n", `routes.csv, line 5, column 3 (step): found step 10 of route CUT v1 again, first on line 2; expected it once.`),
		a("checks.csv", "CUT,1,10,c1,sound,tick,,,,\n", `checks.csv, line 3, column 4 (check): found check c1 of step 10 of route CUT v1 again, first on line 2; expected it once.`),
		a("items.csv", "PA,1,part,part,5005,aluminium,3,CUT,1\n", `items.csv, line 7, column 1 (item): found item PA rev 1 again, first on line 3; expected it once.`),
		a("bills.csv", "AS,1,PA,1,3\n", `bills.csv, line 3, column 3 (component): found component PA rev 1 of item AS rev 1 again, first on line 2; expected it once.`),
		a("finishes.csv", "PT,1,outside,chalk\n", `finishes.csv, line 3, column 3 (face): found face outside of item PT rev 1 again, first on line 2; expected it once.`),
		a("orders.csv", "O1,Moor,2026-12-01\n", `orders.csv, line 3, column 1 (order): found order O1 again, first on line 2; expected it once.`),
		a("lines.csv", "O1,1,PA,1,1\n", `lines.csv, line 3, column 2 (line): found line O1/1 again, first on line 2; expected it once.`),
		a("nests.csv", "N1,SH,1,1,PA,1,,,2\n", `nests.csv, line 3, column 4 (part): found part 1 of nest N1 again, first on line 2; expected it once.`),
		a("sheets.csv", "M1,SH,1,H2\n", `sheets.csv, line 3, column 1 (sheet): found sheet M1 again, first on line 2; expected it once.`),
		a("bought.csv", "D1,BO,1,6\n", `bought.csv, line 3, column 1 (delivery): found delivery D1 again, first on line 2; expected it once.`),

		// Stations, people, routes and checks.
		a("stations.csv", "L2,laser,cuts\n", `stations.csv, line 3, column 3 (stages): found the unknown stage "cuts"; expected the stage cut.`),
		c("stations.csv", "station,name,stages,abrasive\nL1,laser,cut,BELT\n", `stations.csv, line 2 (metal): found an abrasive and no metal; expected the metal the abrasive BELT is kept for, one of aluminium, stainless, steel.`),
		a("qualifications.csv", "P9,weld,2027-01-01\n", `qualifications.csv, line 3, column 1 (person): found the unknown person "P9"; expected a person of people.csv in this folder.`),
		a("routes.csv", "CUT,1,20,anodise,,,\n", `routes.csv, line 5, column 4 (stage): found the unknown stage "anodise"; expected a stage of the shop's table, one of `+stageNames()+`.`),
		a("routes.csv", "CUT,1,20,fold,,,yes\n", `routes.csv, line 5, column 7 (rework): found yes; expected no, as on line 2 of the same route.`),
		a("checks.csv", "CAT,1,10,c2,sound,tick,,,,\n", `checks.csv, line 3, column 1 (route): found the unknown route CAT v1; expected a route of routes.csv in this folder.`),
		a("checks.csv", "CUT,1,90,c2,sound,tick,,,,\n", `checks.csv, line 3, column 3 (step): found step 90, which route CUT v1 does not have; expected a step of that route in routes.csv.`),
		a("checks.csv", "CUT,1,10,c2,sound,look,,,,\n", `checks.csv, line 3, column 6 (kind): found "look"; expected one of tick, measure.`),
		c("sampling.csv", "route,version,step,size,accept\nCUT,1,10,3,0\n", `sampling.csv, line 2, column 3 (step): found step 10, which does “Cut the sheet” and inspects nothing; expected a step that inspects.`),
		c("sampling.csv", "route,version,step,size,accept\nCUT,1,10,3,3\n", `sampling.csv, line 2, column 5 (accept): found 3 accepted of a sample of 3, which refuses nothing; expected less than 3.`),
		c("sampling.csv", "route,version,step,size\nCUT,1,90,3\n", `sampling.csv, line 2, column 3 (step): found step 90, which route CUT v1 does not have; expected a step of that route in routes.csv.`),
		a("checks.csv", "CUT,1,10,c2,sound,tick,3,,,\n", `checks.csv, line 3, column 7 (nominal): found a number for a tick; expected nothing, or the kind measure.`),
		a("checks.csv", "CUT,1,10,c2,angle,measure,,,,\n", `checks.csv, line 3, column 8 (lower): found a measure without limits; expected a lower limit, an upper limit or both.`,
			`checks.csv, line 3, column 10 (unit): found a measure without a unit; expected the unit its limits are in, such as mm.`),
		a("checks.csv", "CUT,1,10,c2,angle,measure,,91,89,mm\n", `checks.csv, line 3, column 8 (lower): found a lower limit above the upper one; expected at most 89.`),
		a("checks.csv", "CUT,1,10,c2,angle,measure,92,89,91,mm\n", `checks.csv, line 3, column 7 (nominal): found a nominal value outside its limits; expected a value between the limits.`),

		// Items, bills, finishes, outlines.
		a("items.csv", "X,1,thing,x,,,,CUT,1\n", `items.csv, line 7, column 3 (kind): found "thing"; expected one of part, assembly, product, kit, bought, sheet, bar.`),
		a("items.csv", "X,1,part,x,,,,CUT,1\n", `items.csv, line 7, column 5 (grade): found nothing; expected the grade of the metal, such as 5005-H32, for a part.`,
			`items.csv, line 7, column 6 (metal): found nothing; expected the metal of the part, one of aluminium, stainless, steel.`,
			`items.csv, line 7, column 7 (thickness_mm): found nothing; expected the thickness of the part in mm.`),
		a("items.csv", "X,1,assembly,x,,,,CUT,1\n", `items.csv, line 7, column 3 (kind): found the assembly X rev 1 without a bill; expected its components in bills.csv.`,
			`items.csv, line 7, column 6 (metal): found nothing; expected the metal of the assembly that discs and belts touch, one of aluminium, stainless, steel.`),
		a("items.csv", "X,1,bought,x,,,,CUT,\n", `items.csv, line 7, column 9 (route_version): found a route without its version, or a version without its route; expected both or neither.`),
		a("items.csv", "X,1,bought,x,,,,,\n", `items.csv, line 7, column 8 (route): found nothing; expected the route of the bought item (only a product, put together at the fitting site, may have none).`),
		a("items.csv", "X,1,bought,x,,,,CUT,7\n", `items.csv, line 7, column 8 (route): found the unknown route CUT v7; expected a route of routes.csv or of the shop.`),
		a("items.csv", "X,1,bought,x,,,,MEND,1\n", `items.csv, line 7, column 8 (route): found the rework route MEND v1; expected a main route, one whose rework is no.`),
		a("items.csv", "X,1,bought,x,,,,PAINT,1\n", `items.csv, line 7, column 8 (route): found the route PAINT v1, which coats, for an item without a finish; expected a finish in finishes.csv, or a route that does not coat.`),
		a("items.csv", "X,1,kit,x,,,,CUT,1\n", `items.csv, line 7, column 3 (kind): found the kit X rev 1 without a bill; expected its components in bills.csv.`),
		a("finishes.csv", "PA,1,outside,basalt\n", `items.csv, line 3, column 8 (route): found the route CUT v1, which does not coat, for an item with a finish; expected a route with a coat step, or no finish.`),
		c("finishes.csv", "item,rev,face,colour\nPT,1,outside,chalk\n", `items.csv, line 6, column 8 (route): found the route PAINT v1, whose step 10 coats the face outside basalt; expected the colour chalk, as finishes.csv says.`),
		c("finishes.csv", "item,rev,face,colour\nPT,1,inside,basalt\n", `items.csv, line 6, column 8 (route): found the route PAINT v1, whose step 10 coats the face outside; expected that face in finishes.csv for item PT rev 1.`,
			`items.csv, line 6, column 8 (route): found the route PAINT v1, which never coats the face inside; expected a coat step for that face.`),
		a("finishes.csv", "XX,1,outside,basalt\n", `finishes.csv, line 3, column 1 (item): found the unknown item XX rev 1; expected an item of items.csv in this folder.`),
		a("finishes.csv", "PT,1,all,basalt\n", `items.csv, line 6, column 8 (route): found the route PAINT v1, which never coats the face all; expected a coat step for that face.`,
			`finishes.csv, line 3, column 3 (face): found the face all beside another face of item PT rev 1; expected either the face all alone, or faces by name.`),
		a("bills.csv", "AS,1,ZZ,1,2\n", `bills.csv, line 3, column 3 (component): found the unknown item ZZ rev 1; expected an item of items.csv or of the shop, at a revision it has.`),
		a("bills.csv", "PA,1,BO,1,2\n", `bills.csv, line 3, column 1 (item): found a bill for the part PA rev 1; expected an assembly, product or kit.`),
		a("bills.csv", "AS,1,SH,1,2\n", `bills.csv, line 3, column 3 (component): found the sheet SH rev 1 as a component; expected a part, assembly, kit or bought item.`),
		a("bills.csv", "AS,1,AS,1,2\n", `bills.csv, line 3, column 3 (component): found a bill that goes round in a circle, AS rev 1 > AS rev 1; expected components that do not contain the item they are part of.`),
		c("outlines.csv", "item,rev,ring,points_mm\nPA,1,1,0 0;9 0\nPA,1,2,0 0;9 0\n", `outlines.csv, line 2, column 4 (points_mm): found 2 points; expected at least 3 points in a ring.`,
			`outlines.csv, line 3, column 4 (points_mm): found 2 points; expected at least 3 points in a ring.`),
		a("outlines.csv", "PA,1,3,0 0;9 0;9 9\n", `outlines.csv, line 3, column 3 (ring): found ring 3 of item PA rev 1; expected ring 2 next: rings are numbered from 1, in order.`),
		a("outlines.csv", "PA,1,2,0 0;9 0;9 9;9x9\n", `outlines.csv, line 3, column 4 (points_mm): found "9x9"; expected points as "x y" in mm, parted by semicolons, such as 0 0;600 0;600 400.`),

		// Orders, nests, material.
		a("orders.csv", "O2,Moor,2026-12-01\n", `orders.csv, line 3, column 1 (order): found order O2 without a line; expected at least one line for it in lines.csv.`),
		a("lines.csv", "O9,1,PA,1,1\n", `lines.csv, line 3, column 1 (order): found the unknown order "O9"; expected an order of orders.csv in this folder.`),
		a("lines.csv", "O1,2,SH,1,1\n", `lines.csv, line 3, column 3 (item): found the sheet SH rev 1; expected an item that is made or bought, not a material.`),
		a("lines.csv", "O1,2,PA,2,1\n", `lines.csv, line 3, column 3 (item): found the unknown item PA rev 2; expected an item of items.csv or of the shop, at a revision it has.`),
		a("nests.csv", "N1,SH,1,2,PA,1,O1,,2\n", `nests.csv, line 3, column 8 (line): found an order without its line, or a line without its order; expected both, or neither for stock.`),
		a("nests.csv", "N1,SH,1,2,PA,1,O9,1,2\n", `nests.csv, line 3, column 7 (order): found the unknown order "O9"; expected an order of orders.csv or of the shop, or neither order nor line for stock.`),
		a("nests.csv", "N1,SH,1,2,PA,1,O1,9,2\n", `nests.csv, line 3, column 8 (line): found the unknown order line O1/9; expected a line that order has.`),
		a("nests.csv", "N1,SH,1,2,PT,1,O1,1,2\n", `nests.csv, line 3, column 8 (line): found item PT rev 1 for order line O1/1, which does not ask for it; expected an order line that asks for the item, itself or in a bill; or neither order nor line, for stock.`),
		a("nests.csv", "N1,SH,1,2,BO,1,,,2\n", `nests.csv, line 3, column 5 (item): found the bought item BO rev 1 on a nest; expected a part, which can be cut from a sheet or bar.`),
		a("nests.csv", "N2,PT,1,1,PA,1,,,2\n", `nests.csv, line 3, column 2 (material): found the part PT rev 1; expected a sheet or bar.`),
		{"items.csv", tiny["items.csv"] + "S4,1,sheet,sheet,5083,aluminium,4,CUT,1\nP4,1,part,part,5083,aluminium,4,CUT,1\n", nil},
		a("sheets.csv", "M2,PA,1,H1\n", `sheets.csv, line 3, column 2 (material): found the part PA rev 1; expected a sheet or bar.`),
		a("bought.csv", "D2,PA,1,1\n", `bought.csv, line 3, column 2 (item): found the part PA rev 1; expected a bought item.`),
	}
	for _, c := range cases {
		t.Run(c.file, func(t *testing.T) { c.hold(t, folder(tiny, c.file, c.data), emptyShop()) })
	}
	two := folder(tiny, "items.csv", tiny["items.csv"]+"S4,1,sheet,sheet,5083,aluminium,4,CUT,1\n",
		"nests.csv", tiny["nests.csv"]+"N1,S4,1,2,PA,1,,,2\n")
	faultCase{want: []string{
		`nests.csv, line 3, column 2 (material): found S4 rev 1, 5083 4 mm, for item PA rev 1, 5005 3 mm; expected a material of the part's own grade and thickness.`,
		`nests.csv, line 3, column 2 (material): found the material S4 rev 1 for nest N1; expected SH rev 1, as on line 2 of the same nest.`,
	}}.hold(t, two, emptyShop())
}

type faultCase struct {
	file, data string
	want       []string
}

func (c faultCase) hold(t *testing.T, fsys fs.FS, known intake.Known) {
	t.Helper()
	b, faults := intake.Read(fsys, known)
	var got []string
	for _, f := range faults {
		got = append(got, f.Error())
	}
	if strings.Join(got, "\n") != strings.Join(c.want, "\n") {
		t.Errorf("got\n  %s\nwant\n  %s", strings.Join(got, "\n  "), strings.Join(c.want, "\n  "))
	}
	if len(faults) > 0 && fmt.Sprint(b) != fmt.Sprint(intake.Bundle{}) {
		t.Error("a bundle came with the faults")
	}
}

func stageNames() string {
	var out []string
	for _, n := range core.DefaultStages().Order {
		out = append(out, string(n))
	}
	return strings.Join(out, ", ")
}

// TestCircle finds a bill that goes round over three items.
func TestCircle(t *testing.T) {
	faultCase{want: []string{`bills.csv, line 4, column 3 (component): found a bill that goes round in a circle, A rev 1 > B rev 1 > C rev 1 > A rev 1; expected components that do not contain the item they are part of.`}}.
		hold(t, folder(map[string]string{
			"routes.csv": tiny["routes.csv"],
			"items.csv":  itemHead + "A,1,assembly,a,,steel,,CUT,1\nB,1,assembly,b,,steel,,CUT,1\nC,1,assembly,c,,steel,,CUT,1\n",
			"bills.csv":  "item,rev,component,component_rev,qty\nA,1,B,1,1\nB,1,C,1,1\nC,1,A,1,1\n",
		}), emptyShop())
}

// TestStoredThingsStay holds what a second import may not change.
func TestStoredThingsStay(t *testing.T) {
	b, faults := intake.Read(folder(tiny), emptyShop())
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	changed := func(file, old, new string) (string, string) {
		if !strings.Contains(tiny[file], old) {
			t.Fatalf("%s has no %q", file, old)
		}
		return file, strings.Replace(tiny[file], old, new, 1)
	}
	for _, c := range []struct{ file, old, new, want string }{
		{"routes.csv", "CUT,1,10,cut", "CUT,1,10,fold", `routes.csv, line 2, column 2 (version): found route CUT v1 in another form than the shop has it; expected a new version number, because lots keep the version they were born under.`},
		{"checks.csv", "sound", "round", `routes.csv, line 2, column 2 (version): found route CUT v1 in another form than the shop has it; expected a new version number, because lots keep the version they were born under.`},
		{"items.csv", "PA,1,part,part", "PA,1,part,port", `items.csv, line 3, column 2 (rev): found item PA rev 1 in another form than the shop has it; expected a new revision, because parts were made to this one.`},
		{"nests.csv", "O1,1,2", "O1,1,1", `nests.csv, line 2, column 1 (nest): found nest N1 in another form than the shop has it; expected another nest number, because a nest is cut as it was planned.`},
		{"sheets.csv", "H1", "H2", `sheets.csv, line 2, column 1 (sheet): found sheet M1 in another form than the shop has it; expected material SH rev 1 and heat H1, or another sheet number.`},
		{"bought.csv", "1,5", "1,6", `bought.csv, line 2, column 1 (delivery): found delivery D1 in another form than the shop has it; expected what was received, or another delivery number.`},
		{"lines.csv", "O1,1,AS,1,1", "O1,1,PA,1,1", `orders.csv, line 2, column 1 (order): found order O1 without its line O1/1 as the shop has it; expected AS rev 1 on that line; its count and the order's date may change, what it asks for may not.
nests.csv, line 2, column 1 (nest): found nest N1 in another form than the shop has it; expected another nest number, because a nest is cut as it was planned.`},
	} {
		f, data := changed(c.file, c.old, c.new)
		faultCase{want: strings.Split(c.want, "\n")}.hold(t, folder(tiny, f, data), shopOf(b))
	}
}

// TestSheetMoved holds that a sheet read again is no fault and no news when it
// has only been put elsewhere.
func TestSheetMoved(t *testing.T) {
	old, _ := intake.Read(folder(tiny), emptyShop())
	old.Sheets[0].Slot, old.Bought[0].Slot = "B-07", "B-08"
	known := shopOf(old)
	b, faults := intake.Read(folder(tiny), known)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if n := b.News(known); len(n.Sheets)+len(n.Bought) != 0 {
		t.Errorf("news: %+v %+v", n.Sheets, n.Bought)
	}
}

// TestOrderMayGrow lets an order in hand gain a line and another date, with a note.
func TestOrderMayGrow(t *testing.T) {
	old, _ := intake.Read(folder(tiny), emptyShop())
	known := shopOf(old)
	b, faults := intake.Read(folder(tiny, "lines.csv", tiny["lines.csv"]+"O1,2,PA,1,4\n"), known)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	const want = "orders.csv, line 2: order O1 is here already and will be changed to what the file says"
	if len(b.Notes) != 1 || b.Notes[0].String() != want {
		t.Errorf("notes %v, want %q", b.Notes, want)
	}
	if n := b.News(known); len(n.Orders) != 1 || len(n.Items) != 0 {
		t.Errorf("news are %+v, want the one order", n)
	}
}

// TestAlone reads one file against a shop that knows the rest.
func TestAlone(t *testing.T) {
	b, _ := intake.Read(folder(tiny), emptyShop())
	got, faults := intake.Read(folder(map[string]string{"nests.csv": nestHead + "N2,SH,1,1,PA,1,O1,1,1\nN2,SH,1,2,PA,1,,,3\n"}), shopOf(b))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if len(got.Nests) != 1 || len(got.Nests[0].Parts) != 2 || !got.Nests[0].Parts[1].Owner.Stock() {
		t.Errorf("got %+v", got.Nests)
	}
	faultCase{want: []string{`nests.csv, line 2, column 2 (material): found the unknown item SH rev 1; expected an item of items.csv or of the shop, at a revision it has.`,
		`nests.csv, line 2, column 5 (item): found the unknown item PA rev 1; expected an item of items.csv or of the shop, at a revision it has.`}}.
		hold(t, folder(map[string]string{"nests.csv": nestHead + "N2,SH,1,1,PA,1,,,1\n"}), emptyShop())
}

// TestBrokenFileIsToldOnce keeps a file that can't be read from making a fault
// of every line that names what it would have held.
func TestBrokenFileIsToldOnce(t *testing.T) {
	faultCase{want: []string{`items.csv, line 1: found fields parted by semicolons or tabs; expected fields parted by commas.`}}.
		hold(t, folder(tiny, "items.csv", "item;rev\nPA;1\n"), emptyShop())
}

func TestFaultsAreCapped(t *testing.T) {
	faultsOf := func(n int) []intake.Fault {
		_, faults := intake.Read(folder(map[string]string{"batches.csv": "batch,kind\n" + strings.Repeat("-,bath\n", n)}), emptyShop())
		return faults
	}
	if got := faultsOf(intake.MaxFaults); len(got) != intake.MaxFaults || got[len(got)-1].More != 0 {
		t.Errorf("%d faults listed, want all %d", len(got), intake.MaxFaults)
	}
	got := faultsOf(intake.MaxFaults + 31)
	const want = "31 more faults are not listed: put these right and read the folder again."
	if len(got) != intake.MaxFaults+1 || got[intake.MaxFaults].String() != want {
		t.Errorf("last of %d is %q, want %q", len(got), got[len(got)-1], want)
	}
}

func TestLimits(t *testing.T) {
	lines := func(n int) fs.FS {
		var b strings.Builder
		b.WriteString("batch,kind\n")
		for i := range n - 1 {
			fmt.Fprintf(&b, "B%d,bath\n", i)
		}
		return folder(map[string]string{"batches.csv": b.String()})
	}
	faultCase{}.hold(t, lines(intake.MaxLines), emptyShop())
	faultCase{want: []string{`batches.csv, line 200001: found more than 200000 lines; expected at most 200000 lines in a file; split it over several folders and import one after the other.`}}.
		hold(t, lines(intake.MaxLines+1), emptyShop())
	faultCase{want: []string{`batches.csv: found more than 32 MiB; expected at most 32 MiB in a file; split it over several folders and import one after the other.`}}.
		hold(t, folder(map[string]string{"batches.csv": strings.Repeat("x", intake.MaxFileBytes+1)}), emptyShop())
	faultCase{want: []string{`the folder: found no CSV file; expected at least one of stations.csv, people.csv, qualifications.csv, instruments.csv, batches.csv, routes.csv, checks.csv, sampling.csv, items.csv, bills.csv, finishes.csv, outlines.csv, orders.csv, lines.csv, nests.csv, sheets.csv, bought.csv.`}}.
		hold(t, folder(map[string]string{"README.md": "x"}), emptyShop())
}

// sick is a folder that can't be read, or whose files can't.
type sick struct {
	fs.FS
	files bool
}

func (s sick) Open(name string) (fs.File, error) {
	if s.files && name == "." {
		return s.FS.Open(name)
	}
	return nil, &fs.PathError{Op: "open", Path: name, Err: errors.New("permission denied")}
}

func TestUnreadable(t *testing.T) {
	one := folder(map[string]string{"batches.csv": tiny["batches.csv"]})
	faultCase{want: []string{"the folder: found that it cannot be read (permission denied); expected a folder with CSV files."}}.
		hold(t, sick{one, false}, emptyShop())
	faultCase{want: []string{"batches.csv: found that it cannot be read (permission denied); expected a file this program may read."}}.
		hold(t, sick{one, true}, emptyShop())
}
