package paper

import ("os";"testing")
func TestLook(t *testing.T){ f,_:=os.Create("/tmp/look.pdf"); if err:=WriteTraveller(f,exampleTraveller());err!=nil{t.Fatal(err)}; f.Close() }
